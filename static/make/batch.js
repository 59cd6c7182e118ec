// Replica batch: the weights are sought on this device at once, and again at the desk by a numeric library, whose answer takes the place of this one where the desk can be reached.
import { allGlasses, estimator } from "../glass/data.js";
import { Pick } from "../glass/pick.js";
import { formulas } from "../glass/refusal.js";
import { at, make, oneLine } from "../web/parts.js";
import { afterPress } from "../web/press.js";
import { CannotMake, inOneForm } from "./addition.js";
import { fumeWords, harm, labelWarning, table } from "./answer.js";
import { analysisOf, printedAnalysis } from "./analysis.js";
import { change } from "./change.js";
import { Draft } from "./draft.js";
import { Keeping, follow, glassBody, judged } from "./keeping.js";
import { enough, lacking, nearest } from "./nearest.js";
import { numberOf } from "./number.js";
import { changePictures } from "./picture.js";
import { askWhole } from "./whole.js";

const [PATIENCE_MS, PAUSE_MS, SHOWN_WT, MOST_OWN, FAR_WT, HARM_WT] = [8000, 250, 0.005, 6, 5, 0.05];
const [MOST_G, MOST_PRICE] = [10_000_000, 1_000_000]; // as server/make/routes.py takes them
const [data, tool, glasses] = await Promise.all([fetch("/make/materials.json").then((answer) => answer.json()), estimator(), allGlasses()]);
const state = { asked: null, found: null, timer: 0, turn: 0 };
const pick = new Pick(document.querySelector(".pick"), glasses, refresh);
const rows = new Map([...document.querySelectorAll(".material")].map((row) => [row.dataset.key, row]));
const whole = (mass_g) => (mass_g >= 100 ? mass_g.toFixed(0) : mass_g.toPrecision(3));
const part = (row, name) => row.querySelector(`[data-part=${name}]`);

function optional(row, which, most, words) {
  const text = part(row, which).value.trim();
  if (!text) return null;
  const value = numberOf(text);
  if (value === null || value < 0 || value > most) throw new CannotMake(words);
  return value;
}

function materialOf(row, name) {
  const wt = analysisOf(part(row, "analysis").value, name, tool.composition.oxides, data.most_of_a_material_wt);
  return { name, wt, most_g: optional(row, "most", MOST_G, `Give the most of ${name} in grams, ten tonnes or less.`), price_kg: optional(row, "price", MOST_PRICE, `Give the price of ${name} for a kilogram.`) };
}

const ticked = () => data.materials.filter(({ key }) => part(rows.get(key), "on").checked);

// Of the user's own those that have a name or an analysis; an empty one is none.
function ownNow() {
  const filled = [...document.querySelectorAll(".own-material")].filter((row) => part(row, "name").value.trim() || part(row, "analysis").value.trim());
  return filled.map((row) => {
    const name = oneLine(part(row, "name").value);
    if (!name) throw new CannotMake("Give the material of your own a name.");
    return materialOf(row, name);
  });
}

function materialsNow() {
  const found = [...ticked().map(({ key, name }) => materialOf(rows.get(key), name)), ...ownNow()];
  const twice = found.find(({ name }, i) => found.findIndex((other) => other.name === name) < i);
  if (twice) throw new CannotMake(`${twice.name} stands there twice. Give one of them another name.`);
  return found;
}

function addOwn() {
  at("own-materials").append(at("own-material").content.cloneNode(true));
  at("another").hidden = document.querySelectorAll(".own-material").length >= MOST_OWN;
}

function askedNow() {
  const target = glasses.find(({ key }) => key === pick.field.value);
  if (!target) return null;
  askWhole(tool, target);
  const glass_g = numberOf(at("mass").value);
  if (glass_g === null || !(glass_g >= 1 && glass_g <= 1e6)) throw new CannotMake("Give the mass of glass wanted in grams, 1 or more, for example 500.");
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
  const high = lacking.filter(({ by }) => by > 0).map(({ oxide, by }) => `${formulas(oxide)} by ${by.toFixed(1)}`);
  const texts = lacking.filter(({ by }) => by < 0).map(({ oxide, by, why }) => `${formulas(oxide)}: ${(-by).toFixed(1)} wt% too little; ${why}.`);
  if (high.length) texts.push(`Too much, to make up for that or because it comes along: ${high.join(", ")} wt%.`);
  const items = texts.map((textContent) => make("li", { textContent }));
  return [make("div", { className: "notice caution", id: "lacking" }, make("p", {}, make("strong", { textContent: "Not reached with these materials. " })), make("ul", {}, ...items))];
}

function priceWords({ price, parts }) {
  if (price !== null) return ` It costs ${price.toFixed(2)}.`;
  const used = new Set(parts.map(({ name }) => name));
  const priced = materialsNow().filter(({ name }) => used.has(name));
  const missing = priced.filter(({ price_kg }) => price_kg === null).map(({ name }) => name);
  return missing.length < priced.length ? ` What it costs cannot be said: no price is given for ${missing.join(", ")}.` : "";
}

// Where a limit keeps it from the mass that is wanted: how much of the nearest glass there could be.
function limitNodes(body) {
  const { mass } = tool.composition;
  const { most_g, names } = enough(inOneForm(body.wt, mass), body.glass_g, body.materials.map((one) => ({ ...one, wt: inOneForm(one.wt, mass) })), data.beyond_wt);
  if (most_g >= body.glass_g) return [];
  const grams = String(Number(Math.floor(most_g * 10) / 10));
  const take = make("button", { type: "button", className: "quiet", textContent: `Reckon ${grams} g`, onclick: () => takeMass(grams) });
  const words = `With what there is of ${names.join(", ")}, only ${grams} g come as near as these materials allow. More of it is another glass.`;
  return [make("div", { className: "notice caution", id: "limited" }, make("p", { textContent: words }), ...(Number(grams) >= 1 ? [make("p", {}, take)] : []))];
}

function takeMass(grams) {
  at("mass").value = grams;
  refresh();
}

// What is weighed, with what harms: the classes of a listed material, and those of the oxides that were typed.
function harmfulNow() {
  const listed = new Map(data.materials.map(({ name, hazards }) => [name, hazards]));
  return materialsNow().map(({ name, wt }) => ({ name, hazards: [...(listed.get(name) ?? ["dust"]), ...Object.keys(wt).filter((oxide) => wt[oxide] >= HARM_WT && data.harmful_oxides[oxide]).map((oxide) => data.harmful_oxides[oxide])] }));
}

function gasWords({ gas_g }) {
  return gas_g < 0.5 ? "hardly anything leaves as gas." : `${gas_g.toFixed(0)} g leave as gas and steam: melt in an open, half-filled pot under extraction.`;
}

function show({ target, body }, found) {
  const price = priceWords(found);
  const isFar = found.lacking.some(({ by }) => Math.abs(by) > FAR_WT);
  const lead = `${whole(found.glass_g + found.gas_g)} g of batch for ${whole(found.glass_g)} g of glass ${isFar ? `that is not ${target.name}: see what lacks` : `like ${target.name}`}.`;
  const figure = make("figure", { className: "changes" }, make("figcaption", { textContent: "The replica against the glass to be copied, with 95 % interval" }), ...changePictures([{ name: "replica", change: found.change }]));
  at("answer").replaceChildren(make("p", { className: "lead", textContent: lead }), ...limitNodes(body), partsTable(found), ...lackingNodes(found),
    make("p", { textContent: `Yield ${(100 * found.yield).toFixed(0)} %; ${gasWords(found)}${price}` }),
    figure, make("details", {}, make("summary", { textContent: "Oxide by oxide" }), residualTable(found)), ...harm(harmfulNow(), data), ...fumeWords([{ name: "The replica", report: tool.estimate(found.wt) }]));
}

/** The answer of this device, in the shape of the desk's (server/make/batch.py told()). */
function reckoned({ wt, glass_g, materials }) {
  const { mass } = tool.composition;
  const [target, chosen] = [inOneForm(wt, mass), materials.map((one) => ({ ...one, wt: inOneForm(one.wt, mass) }))];
  const made = nearest(target, glass_g, chosen);
  const wanted = tool.composition.share({ ...tool.composition.empty(), ...target });
  const names = tool.composition.oxides.filter((name) => Math.max(wanted[name], made.wt[name] ?? 0) > SHOWN_WT);
  const all = made.grams.reduce((total, grams) => total + grams, 0);
  return {
    parts: chosen.map(({ name }, i) => ({ name, grams: made.grams[i] })).filter(({ grams }) => grams > 0),
    wt: Object.fromEntries(names.map((name) => [name, made.wt[name] ?? 0])), wanted: Object.fromEntries(names.map((name) => [name, wanted[name]])),
    lacking: lacking(target, made.wt, chosen, data.beyond_wt), glass_g: made.glass_g, gas_g: made.gas_g, yield: made.glass_g / all, price: made.price,
    change: change(tool.estimate(wanted), tool.estimate(made.wt), tool.data.accuracy.pairs),
  };
}

// The desk's own answer to the same; null where it does not come.
async function fromDesk(body) {
  try {
    const answer = await fetch("/make/batch.json", { method: "POST", headers: { "Content-Type": "application/json", Accept: "application/json" }, body: JSON.stringify(body), signal: AbortSignal.timeout(PATIENCE_MS) });
    if (answer.ok) return await answer.json();
    console.warn("the desk refused to reckon this:", answer.status, await answer.text());
    return null;
  } catch (error) {
    console.warn("the desk did not reckon this:", error.message);
    return null;
  }
}

async function askDesk(asked, turn) {
  const found = await fromDesk(asked.body);
  await new Promise(afterPress); // else a press on what this answer replaces would be lost
  if (!found || state.turn !== turn || at("keep").disabled) return;
  state.found = found;
  show(asked, found);
  document.documentElement.dataset.reckoned = "desk";
}

function refresh() {
  clearTimeout(state.timer);
  state.turn += 1;
  state.asked = judged(() => {
    const asked = askedNow();
    state.found = asked && reckoned(asked.body);
    return asked;
  }, "Choose the glass to be copied.");
  document.documentElement.dataset.reckoned = "here";
  keeping.begin(state.asked ? JSON.stringify([state.asked.target.key, state.asked.body]) : "");
  at("keep-part").hidden = !state.asked;
  if (!state.asked) return;
  show(state.asked, state.found);
  state.timer = setTimeout(askDesk, PAUSE_MS, state.asked, state.turn);
}

function bodyOf({ target, body }, found) {
  const analysis = new Map(body.materials.map(({ name, wt }) => [name, wt]));
  const materials = found.parts.map(({ name, grams }) => ({ name, mass_g: Number(grams.toFixed(3)), wt: analysis.get(name) }));
  const recipe = found.parts.map((one) => `${one.grams.toFixed(one.grams >= 10 ? 1 : 3)} g ${one.name}`).join(", ");
  return glassBody({ name: `Replica of ${target.name}`, family: target.family, source: `Made here after ${target.name.slice(0, 80)}: ${recipe}` }, found.wt, undefined, { glasses: [], compounds: [], materials, after: { key: target.key, name: target.name.slice(0, 120) } });
}

function warningOf({ parts, wt }) {
  const used = new Set(parts.map(({ name }) => name));
  return labelWarning([tool.estimate(wt)], harmfulNow().filter(({ name }) => used.has(name)), data);
}

for (const { key, wt } of data.materials) part(rows.get(key), "analysis").value = printedAnalysis(wt);
const known = new URLSearchParams(location.search).get("g");
if (glasses.some(({ key }) => key === known)) pick.set(known);
const draft = new Draft(at("batch"), addOwn);
const keeping = new Keeping(draft);
draft.restore();
pick.again();
at("another").addEventListener("click", addOwn);
follow(at("batch"), refresh);
at("keep").addEventListener("click", () => keeping.keep([{ body: bodyOf(state.asked, state.found), warning: warningOf(state.found) }]));
refresh();
document.documentElement.dataset.ready = "batch";
