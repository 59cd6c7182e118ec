// The pull test: the rod chip by chip, before and after the pull.
import { rodChip } from "./drawings.js";
import { at, make } from "./kind.js";
import { start } from "./page.js";
import { dueAt, placeRow } from "./placerow.js";

const BEFORE = ["before_1_mm", "before_2_mm"];
const AFTER = ["after_1_mm", "after_2_mm", "fault"];

const places = (measured) => [...(measured.setup.pattern ?? "")].map((_letter, i) => String(i + 1));
const letter = (measured, place) => measured.setup.pattern[Number(place) - 1];
const each = (measured, names) => places(measured).flatMap((place) => names.map((quantity) => ({ place, quantity })));

function tasks(measured) {
  const gate = { gate: "pull", caution: true, title: "Now pull the rod", hint: "Heat it evenly, pull it once, slowly, and let it lie until it is cold. Then measure each chip in its middle again, at the same places.", button: "It is pulled and cold" };
  return [...each(measured, BEFORE), gate, ...each(measured, AFTER)];
}

function mean(readings, place, names) {
  const found = names.map((name) => readings.get(`${place}/${name}`)).filter((value) => typeof value === "number");
  return found.length ? found.reduce((a, b) => a + b, 0) / found.length : null;
}

function draw({ measured }, task, go) {
  const isAfter = AFTER.includes(task?.quantity) || task === null;
  const { readings } = measured;
  const numbers = [...readings.values()].filter((value) => typeof value === "number");
  const face = (place) => {
    const [before, after] = [mean(readings, place, BEFORE), mean(readings, place, AFTER.slice(0, 2))];
    const told = [before, after].map((mm) => (mm === null ? "–" : mm.toFixed(2))).join(" → ");
    return [rodChip(isAfter && after !== null ? after : before, Math.max(1, ...numbers)), make("b", { textContent: letter(measured, place) }), make("span", { className: "small", textContent: told })];
  };
  const isPulled = AFTER.some((name) => [...readings.keys()].some((id) => id.endsWith(`/${name}`)));
  placeRow(places(measured), task, face, (place) => dueAt(measured, place, isPulled || isAfter ? [...BEFORE, ...AFTER] : BEFORE), go);
  at("place-row").classList.add("rod");
}

start({ places, letter, tasks, draw, most: 0 });
