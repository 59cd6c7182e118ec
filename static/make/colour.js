// Colour a glass: every figure is judged as it is typed, the answer follows, and Keep stores each member as a glass of its own on this device first.
import { allGlasses, estimator } from "../glass/data.js";
import { Pick } from "../glass/pick.js";
import { formulas } from "../glass/refusal.js";
import { at } from "../web/parts.js";
import { Additions, CannotMake, inOneForm } from "./addition.js";
import { answerNodes, labelWarning } from "./answer.js";
import { change } from "./change.js";
import { Draft } from "./draft.js";
import { Keeping, follow, glassBody, judged, partOf } from "./keeping.js";
import { numberOf } from "./number.js";
import { numbersIn } from "./series.js";
import { askWhole, reportOf, sdOfWhole, totalWords } from "./whole.js";

const [MOST_MEMBERS, MOST_COMPOUNDS, MOST_G, LEAST_PURITY] = [12, 12, 100_000, 0.05]; // no more than server/glass/own.py takes
const [tool, data, glasses] = await Promise.all([estimator(), fetch("/make/compounds.json").then((answer) => answer.json()), allGlasses()]);
const additions = new Additions(data.compounds, tool.composition.mass);
const state = { plan: null };
const pick = new Pick(document.querySelector(".pick"), glasses, refresh);
const parts = (row, name) => row.querySelector(`[data-part=${name}]`);
const rows = () => [...document.querySelectorAll("#additions .addition")];
const isByGrams = () => document.querySelector("input[name=said]:checked").value === "g";

function addRow() {
  at("additions").append(at("addition").content.cloneNode(true));
  at("another").hidden = rows().length >= MOST_COMPOUNDS;
}

function typed(text, words) {
  const value = numberOf(text);
  if (value === null || value < 0) throw new CannotMake(words);
  return value;
}

function figures(row, isFirst) {
  const texts = numbersIn(parts(row, "amount").value);
  const cut = texts.find((text) => /^0\d/.test(text));
  if (cut) throw new CannotMake(`“${cut}” can be read in two ways. Write 0.${cut.slice(1)} with a point, or blanks between the amounts.`);
  const values = texts.map((text) => typed(text, `“${text.slice(0, 20)}” is not an amount. Write for example 0.5.`));
  if (values.length > 1 && !isFirst) throw new CannotMake("A series is made by the first compound alone.");
  const twice = values.find((value, i) => values.indexOf(value) < i);
  if (twice !== undefined) throw new CannotMake(`${twice} stands twice in the series.`);
  if (values.length > MOST_MEMBERS) throw new CannotMake(`A series has ${MOST_MEMBERS} members at most.`);
  return values;
}

// What was typed: [{compound, values, purity}] of the rows that are filled.
function wishes() {
  return rows().filter((row) => parts(row, "compound").value).map((row, i) => {
    const purity = typed(parts(row, "purity").value, "Give the purity in per cent, for example 98.") / 100;
    if (purity <= 0 || purity > 1) throw new CannotMake("Purity lies above 0 and up to 100 %.");
    if (purity < LEAST_PURITY) throw new CannotMake("Purity is in per cent: write 98, not 0.98. What holds less than 5 % of the compound is not that compound.");
    return { compound: parts(row, "compound").value, values: figures(row, i === 0), purity };
  });
}

function showRow(row) {
  const compound = data.compounds[parts(row, "compound").value];
  const oxide = compound ? formulas(compound.oxide) : "";
  parts(row, "asked").textContent = isByGrams() ? "Weighed" : `${oxide || "Oxide"} in the glass`;
  parts(row, "unit").textContent = isByGrams() ? "g" : "wt%";
  parts(row, "told").textContent = compound ? `${compound.factor.toFixed(3)} g of it to 1 g of ${oxide}.` : "";
}

// Of what is asked for in wt%, 0 means that nothing is added, whatever the base holds of it.
function exactly(glass, base_g, wanted) {
  if (isByGrams()) return wanted.map(({ compound, wt, purity }) => ({ compound, mass_g: wt, purity }));
  const found = additions.toWeigh(glass.wt, base_g, wanted.filter(({ wt }) => wt > 0));
  return wanted.map(({ compound, wt, purity }) => (wt > 0 ? found.shift() : { compound, mass_g: 0, purity }));
}

// Grams as the balance shows them: what is really in the glass follows from these.
function weighedOf(glass, base_g, resolution_g, wanted) {
  const exact = exactly(glass, base_g, wanted);
  if (exact.some(({ mass_g }) => mass_g > MOST_G)) throw new CannotMake(`More than ${MOST_G / 1000} kg of a compound is not weighed here.`);
  const weighed = exact.map((one) => ({ ...one, exact_g: one.mass_g, mass_g: Number((Math.round(one.mass_g / resolution_g) * resolution_g).toFixed(6)) }));
  const lost = weighed.find((one) => one.exact_g > 0 && one.mass_g === 0);
  if (lost) throw new CannotMake(`${data.compounds[lost.compound].name}: ${Number(lost.exact_g.toPrecision(2))} g is less than the balance can show. Take much more base, or mix the compound well with a hundred times its mass of powdered base and weigh of that.`);
  return weighed;
}

function memberName(compound, value) {
  return value === 0 ? "nothing added" : isByGrams() ? `${value} g ${compound.name}` : `${value} wt% ${formulas(compound.oxide)}`;
}

function sdOf(glass, made, base_g, u) {
  const sd = sdOfWhole(tool, glass);
  return Object.fromEntries(Object.keys(made.wt).map((name) => [name, Math.hypot(((sd[name] ?? 0) * base_g) / made.mass_g, u[name] ?? 0)]));
}

function member(glass, base, base_g, resolution_g, wanted, name) {
  const weighed = weighedOf(glass, base_g, resolution_g, wanted);
  const made = additions.made(glass.wt, base_g, weighed);
  const u = additions.wtU(glass.wt, base_g, weighed, resolution_g);
  const sd = sdOf(glass, made, base_g, u);
  const report = tool.estimate(made.wt, glass.weathered, { ...tool.composition.empty(), ...sd });
  return { name, weighed, made, united: inOneForm(made.wt, tool.composition.mass), u, sd, report, change: change(base, report, tool.data.accuracy.pairs) };
}

function planOf() {
  const glass = glasses.find((one) => one.key === pick.field.value);
  const all = wishes();
  const asked = all.filter(({ values }) => values.length);
  if (!glass || !asked.length) return null;
  const half = all.find(({ values }) => !values.length);
  if (half) throw new CannotMake(`Say how much of ${data.compounds[half.compound].name}, or choose nothing there.`);
  if (rows().some((row) => !parts(row, "compound").value && parts(row, "amount").value.trim())) throw new CannotMake("An amount stands there without what is weighed: choose it, or empty the amount.");
  askWhole(tool, glass);
  const base_g = typed(at("mass").value, "Give the mass of the base in grams, for example 20.");
  if (!(base_g > 0 && base_g <= MOST_G)) throw new CannotMake("Give the mass of the base in grams, for example 20.");
  const resolution_g = Number(at("resolution").value);
  if (base_g < 10 * resolution_g) throw new CannotMake(`The balance reads to ${resolution_g} g: take ${Number((10 * resolution_g).toPrecision(3))} g of base or more.`);
  const base = reportOf(tool, glass);
  const names = asked.map(({ compound }) => data.compounds[compound]);
  const members = asked[0].values.map((value) => {
    const wanted = asked.map((one, i) => ({ compound: one.compound, purity: one.purity, wt: i ? one.values[0] : value }));
    return member(glass, base, base_g, resolution_g, wanted, wanted.map((one, i) => memberName(names[i], one.wt)).join(", "));
  });
  const grams = members.map(({ weighed }) => weighed.map(({ mass_g }) => mass_g).join(" "));
  const same = members.find((_one, i) => grams.indexOf(grams[i]) < i);
  if (same) throw new CannotMake(`On this balance ${same.name} weighs as much as another of the series. Take more base, or steps that are farther apart.`);
  return { base, baseName: glass.name, totalWords: totalWords(tool, glass), glass, base_g, resolution_g, names, members };
}

function refresh() {
  for (const row of rows()) showRow(row);
  state.plan = judged(planOf, "Choose a base glass and what to add to it.");
  keeping.begin(state.plan ? answerOf(state.plan) : "");
  at("keep-part").hidden = !state.plan;
  if (!state.plan) return;
  at("keep").textContent = state.plan.members.length > 1 ? `Keep these ${state.plan.members.length} glasses` : "Keep this glass";
  at("answer").replaceChildren(...answerNodes(state.plan, data));
}

function bodyOf({ glass, base_g, names }, one) {
  const recipe = one.weighed.map(({ mass_g, purity }, i) => `${mass_g} g ${names[i].name}${purity < 1 ? ` of ${Number((100 * purity).toFixed(1))} %` : ""}`).join(", ");
  const texts = { name: `${glass.name.slice(0, 60)}, ${one.name}`, family: glass.family, source: `Made here: ${recipe} into ${base_g} g of ${glass.name}`, surface: glass.weathered ? "weathered" : "not stated" };
  return glassBody(texts, one.made.wt, one.sd, { glasses: [partOf(glass, base_g)], compounds: one.weighed.map(({ compound, mass_g, purity }) => ({ compound, mass_g, purity })) });
}

// What is weighed, however it was typed.
function answerOf({ glass, base_g, members }) {
  return JSON.stringify([glass.key, base_g, ...members.map(({ weighed }) => weighed.map(({ compound, mass_g, purity }) => [compound, mass_g, purity]))]);
}

function warningOf({ names, base }, one) {
  return labelWarning([base], names.filter((_name, i) => one.weighed[i].mass_g > 0), data);
}

addRow();
const asked = new URLSearchParams(location.search).get("g");
if (glasses.some(({ key }) => key === asked)) pick.set(asked);
const draft = new Draft(at("colour"), addRow);
const keeping = new Keeping(draft);
draft.restore();
pick.again();
at("another").addEventListener("click", () => {
  addRow();
  refresh();
});
follow(at("colour"), refresh);
at("keep").addEventListener("click", () => keeping.keep(state.plan.members.map((one) => ({ body: bodyOf(state.plan, one), warning: warningOf(state.plan, one) }))));
refresh();
document.documentElement.dataset.ready = "colour";
