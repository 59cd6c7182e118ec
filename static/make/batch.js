// Replica batch: what there is to make it of is said here; the weights are sought at the desk, by a numeric library. The choice stays on the page while the desk is away.
import { allGlasses } from "../glass/data.js";
import { Pick } from "../glass/pick.js";
import { formulas } from "../glass/refusal.js";
import { NotKept, newId, record } from "../web/outbox.js";
import { at, complain, joined, make, numberFrom } from "../web/parts.js";
import { CannotMake } from "./addition.js";
import { table } from "./answer.js";
import { changePictures } from "./picture.js";

const [PATIENCE_MS, PAUSE_MS] = [8000, 250];
const NEEDS_DESK = "These weights are sought at the desk, and the desk does not answer. What you chose stays here; it is asked again with the next change.";
const CHANGES = [["softening", "Softening", "K"], ["working", "Working point", "K"], ["range", "Working range", "K"], ["alpha", "Expansion", "× 10⁻⁷/K"]];
const [data, glasses] = await Promise.all([fetch("/make/materials.json").then((answer) => answer.json()), allGlasses()]);
const state = { asked: null, found: null, timer: 0 };
const pick = new Pick(document.querySelector(".pick"), glasses, later);
const rows = new Map([...document.querySelectorAll(".material")].map((row) => [row.dataset.key, row]));
const part = (row, name) => row.querySelector(`[data-part=${name}]`);

const printed = (wt) => Object.entries(wt).map(([name, share]) => `${name} ${Number(share.toFixed(3))}`).join(", ");

// "SiO2 99.6, Al2O3 0.2" -> {oxide: wt%}.
function analysisOf(text, name) {
  const pairs = [...text.matchAll(/([A-Z][A-Za-z0-9]*)\s+(\d+(?:[.,]\d+)?)/g)].map(([, oxide, share]) => [oxide, Number(share.replace(",", "."))]);
  const rest = text.replace(/([A-Z][A-Za-z0-9]*)\s+(\d+(?:[.,]\d+)?)/g, "").replace(/[\s,;]+/g, "");
  if (!pairs.length || rest) throw new CannotMake(`The analysis of ${name} cannot be read. Write for example SiO2 99.6, Al2O3 0.2.`);
  return Object.fromEntries(pairs);
}

function optional(row, which, words) {
  const text = part(row, which).value.trim();
  if (!text) return null;
  const value = numberFrom(text);
  if (value === null || value < 0) throw new CannotMake(words);
  return value;
}

function materialsNow() {
  return data.materials.filter(({ key }) => part(rows.get(key), "on").checked).map(({ key, name }) => {
    const row = rows.get(key);
    return { name, wt: analysisOf(part(row, "analysis").value, name), most_g: optional(row, "most", `Give the most of ${name} in grams.`), price_kg: optional(row, "price", `Give the price of ${name} for a kilogram.`) };
  });
}

function askedNow() {
  const target = glasses.find(({ key }) => key === pick.field.value);
  if (!target) return null;
  const glass_g = numberFrom(at("mass").value);
  if (glass_g === null || !(glass_g > 0 && glass_g <= 1e6)) throw new CannotMake("Give the mass of glass wanted in grams, for example 500.");
  const materials = materialsNow();
  if (!materials.length) throw new CannotMake("Tick at least one material.");
  return { target, body: { wt: target.wt, glass_g, materials } };
}

function partsTable({ parts }) {
  const all = parts.reduce((sum, one) => sum + one.grams, 0);
  return table("Weigh as it lies, dry", ["Material", "g", "of the batch"], parts.map((one) => [one.name, make("strong", { textContent: one.grams >= 10 ? one.grams.toFixed(1) : one.grams.toFixed(3) }), `${((100 * one.grams) / all).toFixed(1)} %`]), "weigh");
}

function residualTable({ wt, wanted }) {
  const rowsOf = Object.keys(wt).map((name) => [formulas(name), wanted[name].toFixed(2), wt[name].toFixed(2), `${wt[name] - wanted[name] < 0 ? "−" : "+"}${Math.abs(wt[name] - wanted[name]).toFixed(2)}`]);
  return table("wt%, both brought to 100", ["Oxide", "Wanted", "Comes to", "Off by"], rowsOf);
}

function lackingNodes({ lacking }) {
  if (!lacking.length) return [make("p", { textContent: "Every oxide comes within 0.2 wt% of what is wanted." })];
  const items = lacking.map(({ oxide, by, why }) => make("li", { textContent: `${formulas(oxide)}: ${Math.abs(by).toFixed(1)} wt% too ${by < 0 ? "little" : "much"}; ${why}.` }));
  return [make("div", { className: "notice caution", id: "lacking" }, make("p", {}, make("strong", { textContent: "Not reached with these materials. " })), make("ul", {}, ...items))];
}

function harmNodes() {
  const classes = [...new Set(data.materials.filter(({ key }) => part(rows.get(key), "on").checked).flatMap(({ hazards }) => hazards))];
  return [make("div", { className: "notice caution harm" }, make("p", {}, make("strong", { textContent: "These can harm." })), make("ul", {}, ...classes.map((key) => make("li", { textContent: data.hazards[key] }))))];
}

function show({ target }, found) {
  const price = found.price === null ? "" : ` It costs ${found.price.toFixed(2)}.`;
  const lead = `${(found.glass_g + found.gas_g).toFixed(0)} g of batch for ${found.glass_g.toFixed(0)} g of glass like ${target.name}.`;
  const figure = make("figure", { className: "changes" }, make("figcaption", { textContent: "The replica against the glass to be copied, with 95 % interval" }), ...changePictures([{ name: "replica", change: found.change }], CHANGES));
  at("answer").replaceChildren(make("p", { className: "lead", textContent: lead }), partsTable(found), ...lackingNodes(found),
    make("p", { textContent: `Yield ${(100 * found.yield).toFixed(0)} %; ${found.gas_g.toFixed(0)} g leave as gas and steam: melt in an open, half-filled pot under extraction.${price}` }),
    figure, make("details", {}, make("summary", { textContent: "Oxide by oxide" }), residualTable(found)), ...harmNodes());
}

function say(words) {
  at("keep-part").hidden = true;
  at("answer").replaceChildren(make("p", { className: "lead", textContent: words }));
}

async function ask(asked) {
  const answer = await fetch("/make/batch.json", { method: "POST", headers: { "Content-Type": "application/json", Accept: "application/json" }, body: JSON.stringify(asked.body), signal: AbortSignal.timeout(PATIENCE_MS) });
  const told = await answer.json();
  if (answer.ok) return told;
  throw answer.status < 500 ? new CannotMake(told.detail) : new TypeError(told.detail);
}

const refresh = joined(async () => {
  at("kept").hidden = true;
  at("keep").disabled = false;
  try {
    complain("make-error", "");
    state.asked = askedNow();
    state.found = state.asked && (await ask(state.asked));
    if (!state.found) return say("Choose the glass to be copied.");
    at("keep-part").hidden = false;
    return show(state.asked, state.found);
  } catch (error) {
    state.found = null;
    if (error instanceof CannotMake) {
      complain("make-error", error.message);
      return say("No answer yet: see the message beside the form.");
    }
    if (!["TypeError", "TimeoutError", "AbortError", "SyntaxError"].includes(error.name)) throw error;
    return say(NEEDS_DESK);
  }
});

function later() {
  clearTimeout(state.timer);
  state.timer = setTimeout(refresh, PAUSE_MS);
}

async function keep() {
  const { asked: { target }, found } = state;
  const recipe = found.parts.map((one) => `${one.grams.toFixed(one.grams >= 10 ? 1 : 3)} g ${one.name}`).join(", ");
  const amounts = Object.entries(found.wt).map(([name, wt]) => ({ name, text: wt.toFixed(4), unit: "wt" }));
  const texts = { family: target.family, period: "", region: "", source: `Made here after ${target.name.slice(0, 80)}: ${recipe}`.slice(0, 400), note: "Composition reckoned from what was weighed, not analysed.", surface: "not stated", replaces: "" };
  try {
    await record("glass.added", newId(), { name: `Replica of ${target.name}`.slice(0, 120), ...texts, amounts });
  } catch (error) {
    if (!(error instanceof NotKept)) throw error;
    return complain("keep-error", error.message);
  }
  complain("keep-error", "");
  at("keep").disabled = true;
  complain("kept", "It is kept on this device and goes to the desk by itself.");
}

for (const { key, wt } of data.materials) part(rows.get(key), "analysis").value = printed(wt);
const known = new URLSearchParams(location.search).get("g");
if (glasses.some(({ key }) => key === known)) pick.set(known);
for (const kind of ["input", "change"]) at("batch").addEventListener(kind, (event) => event.target.type !== "search" && later());
at("batch").addEventListener("submit", (event) => event.preventDefault());
at("keep").addEventListener("click", keep);
await refresh();
document.documentElement.dataset.ready = "batch";
