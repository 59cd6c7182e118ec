// A firing as it goes: what the plan has now, what the kiln shows, how far apart, and how it ended. One field, one button; every reading is stored at once.
import { NotKept, onChange, record } from "../web/outbox.js";
import { at, complain, joined, make, oneLine } from "../web/parts.js";
import { afterPress } from "../web/press.js";
import { CannotMake } from "./addition.js";
import { cornersOf, firingPicture, hoursWords, linesTable } from "./firing.js";
import { EARLY_MS, allFirings, fastestFall, plannedAt } from "./firings.js";
import { numberOf } from "./number.js";

const [EVERY_MS, MOST_AGO_MIN] = [20_000, 20_160];
const SHAPES = { bead: "bead", rod: "rod", shelf: "slab on a shelf", slab: "slab in air" };
const OUTCOMES = { whole: "whole", cracked: "cracked", stuck: "stuck to the shelf", other: "otherwise" };
const id = new URLSearchParams(location.search).get("f") ?? "";
const state = { firing: null };

const signed = (value) => String(value).replace("-", "−");

function off(kelvin) {
  const whole = Math.round(kelvin);
  return whole === 0 ? "as planned" : `${whole < 0 ? "−" : "+"}${Math.abs(whole)} K to the plan`;
}

const clock = (ms) => new Date(ms).toLocaleString(undefined, Math.abs(ms - Date.now()) < 12 * 3_600_000 ? { timeStyle: "short" } : { dateStyle: "medium", timeStyle: "short" });

function leadWords({ plan, at_ms, ended }, corners) {
  if (ended) return `Ended: ${OUTCOMES[ended.outcome]}.${ended.note ? ` ${ended.note}` : ""}`;
  const h = (Date.now() - at_ms) / 3_600_000;
  const end = corners.at(-1).h;
  if (h >= end) return `The programme is over. Open below ${Math.round(plan.open_c)} °C.`;
  return `${hoursWords(h)} in. The plan has ${Math.round(plannedAt(corners, h))} °C now and is over at ${clock(at_ms + end * 3_600_000)}.`;
}

function readingItem(one, corners) {
  const back = make("button", { type: "button", className: "quiet", textContent: "Take back", onclick: () => write("firing.taken_back", { entry: one.id }) });
  back.setAttribute("aria-label", `Take back ${signed(one.t_c)} °C`);
  return make("li", { className: "row" }, make("span", { textContent: `${hoursWords(one.h)}: ${signed(one.t_c)} °C, ${off(one.t_c - plannedAt(corners, one.h))}` }), ...(state.firing.ended ? [] : [back]));
}

// The latest stands there, the others wait behind it.
function showReadings({ readings }, corners) {
  const [latest, ...earlier] = readings.map((one) => readingItem(one, corners)).reverse();
  at("readings").replaceChildren(...(latest ? [latest] : []));
  at("earlier").replaceChildren(...earlier);
  at("earlier-part").hidden = !earlier.length;
  at("earlier-count").textContent = earlier.length === 1 ? "One reading before it" : `${earlier.length} readings before it`;
}

function fallWords(firing) {
  const fall = fastestFall(firing);
  if (!fall) return "";
  const slow = firing.plan.segments.find(({ kind }) => kind === "slow");
  const told = `From ${Math.round(fall.from_c)} to ${Math.round(fall.to_c)} °C it fell by ${Math.round(fall.rate_k_h)} K/h`;
  if (!fall.isFaster) return `${told}, no faster than planned.`;
  return `${told}, ${(fall.rate_k_h / slow.rate_k_h).toFixed(1)} times as fast as planned: about ${(fall.stress_pa / 1e6).toFixed(1)} MPa stays at its surface instead of ${(slow.stress_pa / 1e6).toFixed(1)}. Look at it through crossed polarisers; anneal it again if it shows.`;
}

function render() {
  const { firing } = state;
  at("part-nothing").hidden = Boolean(firing);
  at("part-firing").hidden = !firing;
  if (!firing) return;
  const plan = { ...firing.plan, hours: cornersOf(firing.plan).at(-1).h };
  const corners = cornersOf(plan);
  at("lead").textContent = leadWords(firing, corners);
  at("what").textContent = `${firing.plan.glasses.map(({ name }) => name).join(" with ")}; ${SHAPES[firing.plan.shape]}, ${firing.plan.size_mm} mm; begun ${new Date(firing.at_ms).toLocaleString(undefined, { dateStyle: "medium", timeStyle: "short" })}.`;
  at("picture").replaceChildren(firingPicture(plan, firing.readings));
  at("fall").textContent = fallWords(firing);
  showReadings(firing, corners);
  at("lines").replaceChildren(linesTable(plan));
  for (const part of document.querySelectorAll("[data-while=open]")) part.hidden = Boolean(firing.ended);
  at("ended-acts").hidden = !firing.ended;
}

const load = joined(async () => {
  state.firing = (await allFirings()).find((one) => one.id === id) ?? null;
  render();
});

/** Record, and say so where the store refuses; true where it was kept. */
async function write(kind, body) {
  try {
    await record(kind, id, body);
  } catch (error) {
    if (!(error instanceof NotKept)) throw error;
    complain("read-error", error.message);
    return false;
  }
  await load();
  return true;
}

/** Whole minutes from a typed moment to now, 0 for none; null, with the reason said, where it cannot be. */
function agoMin(field, errorAt) {
  if (!at(field).value) return 0;
  const minutes = Math.round((Date.now() - new Date(at(field).value).getTime()) / 60_000);
  if (complain(errorAt, minutes >= 0 && minutes <= MOST_AGO_MIN ? "" : "That moment lies ahead, or more than two weeks back.")) return null;
  return minutes;
}

// °C that were typed, null for none; NaN, with the reason said, where they can be read in two ways.
function shownNow() {
  try {
    return numberOf(at("shown").value);
  } catch (error) {
    if (!(error instanceof CannotMake)) throw error;
    complain("read-error", error.message);
    return NaN;
  }
}

async function read(event) {
  event.preventDefault();
  const t_c = shownNow();
  if (Number.isNaN(t_c)) return;
  if (complain("read-error", t_c !== null && t_c >= -50 && t_c <= 2000 ? "" : "Type what the kiln shows in °C, for example 540.")) return;
  const ago_min = agoMin("when", "read-error");
  if (ago_min === null) return;
  const moment = Date.now() - ago_min * 60_000;
  if (complain("read-error", moment < state.firing.at_ms - EARLY_MS ? "That is before the kiln was switched on. Was it on earlier? Say so below." : "")) return;
  const typed = at("shown").value;
  at("shown").value = at("when").value = ""; // at once: the next reading may be typed while this one is being stored
  if (!(await write("firing.read", { t_c, ...(ago_min ? { ago_min } : {}) }))) at("shown").value ||= typed;
}

async function moveStart() {
  const ago_min = agoMin("begun", "begun-error");
  if (!ago_min) return complain("begun-error", ago_min === 0 ? "Say when the kiln was switched on." : at("begun-error").textContent);
  const recorded = state.firing.recorded_ms;
  const before = Math.round((recorded - (Date.now() - ago_min * 60_000)) / 60_000);
  if (complain("begun-error", before >= 1 ? "" : "The start was recorded before that moment. Only an earlier one can be given.")) return null;
  const start = recorded - before * 60_000;
  const lost = state.firing.readings.filter(({ h }) => state.firing.at_ms + h * 3_600_000 < start - EARLY_MS).length;
  if (complain("begun-error", lost ? `${lost === 1 ? "A reading lies" : `${lost} readings lie`} before that moment. Take back what is wrong first.` : "")) return null;
  at("begun").value = "";
  return write("firing.begun", { ago_min: before });
}

// One end for one press; taken back, the firing goes on.
async function end() {
  if (state.firing.ended) return;
  at("end").disabled = true;
  await write("firing.ended", { outcome: at("outcome").value, note: oneLine(at("note").value) });
  at("end").disabled = false;
}

// Two tablets may both have ended it: each end is taken back.
async function goOn() {
  for (const entry of state.firing.ended?.ids ?? []) if (!(await write("firing.taken_back", { entry }))) return;
}

at("read").addEventListener("submit", read);
at("end").addEventListener("click", end);
at("not-ended").addEventListener("click", goOn);
at("move-start").addEventListener("click", moveStart);
onChange((what) => what === "marked" && load());
setInterval(() => afterPress(render), EVERY_MS);
await load();
document.documentElement.dataset.ready = "firing";
