// Kiln programme: every figure is judged as it is typed, and the answer follows; without the desk as with it.
import { allGlasses } from "../glass/data.js";
import { Pick } from "../glass/pick.js";
import { NotKept, newId, record } from "../web/outbox.js";
import { at, complain, make } from "../web/parts.js";
import { CannotMake } from "./addition.js";
import { programme } from "./anneal.js";
import { Draft } from "./draft.js";
import { answerNodes } from "./firing.js";
import { allFirings } from "./firings.js";
import { follow, judged, mayGo } from "./keeping.js";
import { numberOf } from "./number.js";
import { dropSheet, isOfSheet, sheetGlass } from "./sheet.js";

const MOST_GLASSES = 3;
const NOTHING = "Choose the glass, or the glasses of one piece.";
const [data, glasses] = await Promise.all([fetch("/make/anneal.json").then((answer) => answer.json()), allGlasses()]);
const picks = [];
const state = { firing: null, peak: "" }; // what logging this programme would record; the peak that was suggested
const chosen = (name) => document.querySelector(`input[name=${name}]:checked`).value;

function addRow(key = "") {
  const part = at("part").content.cloneNode(true).firstElementChild;
  at("parts").append(part);
  const pick = new Pick(part.querySelector(".pick"), glasses, () => {
    dropSheet(part);
    refresh();
  });
  part.addEventListener("input", (event) => isOfSheet(event.target) && pick.set("")); // the data sheet is typed instead
  if (glasses.some((one) => one.key === key)) pick.set(key);
  const row = { part, pick };
  picks.push(row);
  mayGo(part, 1, () => {
    picks.splice(picks.indexOf(row), 1);
    at("another").hidden = false;
    refresh();
  });
  at("another").hidden = picks.length >= MOST_GLASSES;
}

function figure(id, words) {
  const value = numberOf(at(id).value);
  if (value === null || value < 0) throw new CannotMake(words);
  return value;
}

function wishNow() {
  const isFused = chosen("before") === "fuse";
  return {
    aim: at("aim").value, care: at("care").value, is_garaged: chosen("before") === "garage",
    kiln_heats_k_h: figure("heats", "Give how fast the kiln heats, in K an hour."), kiln_cools_k_h: figure("cools", "Give how fast the kiln cools, in K an hour."),
    peak_c: isFused ? figure("peak", "Give the peak of the firing in °C.") : null, peak_min: isFused ? figure("peak-min", "Give how long the peak is held, in minutes.") : 0,
  };
}

function forKiln({ name, curve, alpha }) {
  if (!curve) throw new CannotMake(`${name} has no estimated curve, so no soak can be reckoned. If you have its data sheet, type the points from it.`);
  return { vft: curve.vft, annealing_c: curve.points.annealing, strain_c: curve.points.strain, alpha_1e7_k: alpha ? alpha[0] : null };
}

function showForm() {
  const shape = data.shapes[chosen("shape")];
  at("size-label").textContent = shape.size;
  at("shape-note").textContent = shape.note;
  at("fuse-part").hidden = chosen("before") !== "fuse";
}

// A start, stiff enough to keep its place: for other glasses another one, unless a peak was typed.
function suggestPeak(found) {
  const soft = found.filter(({ curve }) => curve).map(({ curve }) => curve.points.softening);
  const peak = soft.length ? String(Math.round((Math.min(...soft) + 60) / 5) * 5) : "";
  const isTyped = at("peak").value !== "" && at("peak").value !== state.peak;
  if (peak !== state.peak && !isTyped) at("peak").value = peak;
  state.peak = peak;
}

// Whole figures go into the book as the controller takes them.
function firingOf(plan, found, piece) {
  const { soak_c, open_c, segments } = plan;
  return { glasses: found.map(({ key, name }) => ({ key, name: name.slice(0, 120) })), ...piece, soak_c, open_c, segments };
}

async function fire() {
  const id = newId();
  at("fire").disabled = true; // a second press is no second firing
  try {
    await record("firing.started", id, state.firing);
  } catch (error) {
    if (!(error instanceof NotKept)) throw error;
    at("fire").disabled = false;
    return complain("fire-error", error.message);
  }
  return location.assign(`/make/firing?f=${id}`);
}

function firingItem({ id, at_ms, plan, ended }) {
  const day = new Date(at_ms).toLocaleString(undefined, { dateStyle: "medium", timeStyle: "short" });
  return make("li", {}, make("a", { className: "onward", href: `/make/firing?f=${id}`, textContent: `${day}: ${plan.glasses.map(({ name }) => name).join(" with ")}, ${ended ? ended.outcome : "not ended"}` }));
}

async function showFirings() {
  const found = await allFirings();
  at("firings").hidden = !found.length;
  at("firing-list").replaceChildren(...found.slice(0, 30).map(firingItem));
}

function plannedFor(found) {
  const [piece, wish] = [{ shape: chosen("shape"), size_mm: figure("size", "Give the size in mm, for example 12.") }, wishNow()];
  return { piece, wish, made: programme(data, found.map(forKiln), piece, wish) };
}

// What was typed of a data sheet goes before what was chosen.
const found = () => picks.map(({ part, pick }) => sheetGlass(part, data.sheet_a) ?? glasses.find(({ key }) => key === pick.field.value)).filter(Boolean);

function refresh() {
  showForm();
  let pieces = [];
  const plan = judged(() => {
    pieces = found();
    suggestPeak(pieces);
    return pieces.length ? plannedFor(pieces) : null;
  }, NOTHING);
  draft.save(); // with the peak that was suggested
  state.firing = plan && firingOf(plan.made, pieces, plan.piece);
  at("fire-part").hidden = !plan;
  if (plan) at("answer").replaceChildren(...answerNodes(plan.made, pieces, plan.piece, plan.wish, data));
}

addRow(new URLSearchParams(location.search).get("g") ?? "");
suggestPeak(found()); // nothing is typed yet
const draft = new Draft(at("kiln"), addRow);
draft.restore();
for (const { part, pick } of picks) {
  pick.again();
  part.querySelector("details").open = [...part.querySelectorAll("details input")].some(({ value }) => value);
}
at("another").addEventListener("click", () => addRow());
at("fire").addEventListener("click", fire);
addEventListener("pageshow", () => (at("fire").disabled = false)); // Back from the firing
follow(at("kiln"), refresh);
refresh();
await showFirings();
document.documentElement.dataset.ready = "kiln";
