// Blend glasses: masses are judged as they are typed, the mixing line follows, and Keep stores the blend as a glass of its own on this device first.
import { allGlasses, estimator } from "../glass/data.js";
import { Pick } from "../glass/pick.js";
import { formulas } from "../glass/refusal.js";
import { at, make } from "../web/parts.js";
import { CannotMake, blended } from "./addition.js";
import { fitWords, fumeWords, grams, labelWarning, percent, table } from "./answer.js";
import { change } from "./change.js";
import { Draft } from "./draft.js";
import { Keeping, follow, glassBody, judged, mayGo, partOf } from "./keeping.js";
import { mixingPictures } from "./line.js";
import { numberOf } from "./number.js";
import { askWhole, reportOf, sdOfWhole, totalWords } from "./whole.js";

const [LEAST_PARTS, MOST_PARTS, STEPS] = [2, 6, 20];
const [tool, glasses] = await Promise.all([estimator(), allGlasses()]);
const rows = [];
const state = { plan: null };

function addRow(key = "") {
  if (rows.length >= MOST_PARTS) return;
  const part = at("part").content.cloneNode(true).firstElementChild;
  at("parts").append(part);
  const row = { pick: new Pick(part.querySelector(".pick"), glasses, refresh), mass: part.querySelector("[data-part=mass]") };
  if (glasses.some((one) => one.key === key)) row.pick.set(key);
  rows.push(row);
  mayGo(part, LEAST_PARTS, () => {
    rows.splice(rows.indexOf(row), 1);
    at("another").hidden = false;
    refresh();
  });
  at("another").hidden = rows.length >= MOST_PARTS;
}

function sdOf(parts, { wt, u, mass_g }) {
  const each = parts.map(({ glass, mass_g: own_g }) => [sdOfWhole(tool, glass), own_g / mass_g]);
  return { ...tool.composition.empty(), ...Object.fromEntries(Object.keys(wt).map((name) => [name, Math.hypot(u[name] ?? 0, ...each.map(([sd, share]) => (sd[name] ?? 0) * share))])) };
}

function reckoned(parts, resolution_g) {
  const made = blended(parts.map(({ glass, mass_g }) => ({ wt: glass.wt, mass_g })), resolution_g);
  const sd = sdOf(parts, made);
  return { ...made, sd, report: tool.estimate(made.wt, parts.some(({ glass, mass_g }) => mass_g > 0 && glass.weathered), sd) };
}

// From the first glass alone to the others alone, in the proportions that these have.
function lineOf(parts, total_g) {
  const others_g = total_g - parts[0].mass_g;
  return Array.from({ length: STEPS + 1 }, (_, i) => i / STEPS).map((share) => {
    const scaled = parts.map((one, k) => ({ ...one, mass_g: k ? (share * one.mass_g) / others_g : 1 - share }));
    return { share, report: reckoned(scaled, 0).report };
  });
}

function planOf() {
  const filled = rows.filter(({ pick, mass }) => pick.field.value && mass.value.trim());
  const parts = filled.map(({ pick, mass }) => {
    const mass_g = numberOf(mass.value);
    if (mass_g === null || !(mass_g > 0) || mass_g > 100_000) throw new CannotMake(`“${mass.value.slice(0, 20)}” is not a mass. Write for example 12.5.`);
    return { glass: glasses.find(({ key }) => key === pick.field.value), mass_g };
  });
  const half = parts.length < LEAST_PARTS ? null : rows.find(({ pick, mass }) => Boolean(pick.field.value) !== Boolean(mass.value.trim()));
  if (half) throw new CannotMake(half.pick.field.value ? `Give the mass of ${half.pick.box.value}, or take it out.` : `Choose the glass of which there are ${half.mass.value.slice(0, 20)} g, or empty its mass.`);
  if (parts.length < 2 || parts.some(({ glass }) => !glass)) return null;
  for (const { glass } of parts) askWhole(tool, glass);
  const resolution_g = Number(at("resolution").value);
  const made = reckoned(parts, resolution_g);
  return { parts: parts.map((part) => ({ ...part, report: reportOf(tool, part.glass) })), resolution_g, made, line: lineOf(parts, made.mass_g), share: 1 - parts[0].mass_g / made.mass_g };
}

function leadWords({ parts, made }) {
  const told = `${made.mass_g.toPrecision(4)} g of ${parts.map(({ glass, mass_g }) => `${Math.round((100 * mass_g) / made.mass_g)} % ${glass.name}`).join(", ")}.`;
  const { points } = made.report;
  return points ? `Softens at ${Math.round(points.softening.t_c)} ± ${Math.round(points.softening.u95_k)} °C, works at ${Math.round(points.working.t_c)} ± ${Math.round(points.working.u95_k)} °C (95 %): ${told}` : `No working temperatures: no model may answer for this blend. ${told}`;
}

function expansionWords({ report }) {
  return report.alpha ? `Expansion ${Math.round(report.alpha.value_1e7_k)} ± ${Math.round(report.alpha.u95_1e7_k)} × 10⁻⁷/K (95 %).` : "No estimate of its expansion.";
}

// Whether the blend holds on what it was made of.
function fitNodes({ parts, made }) {
  const items = parts.map(({ glass, report }) => make("li", { textContent: `${glass.name}: ${fitWords(change(report, made.report, tool.data.accuracy.pairs).alpha)}` }));
  return make("details", {}, make("summary", { textContent: "Will it hold on its parts?" }), make("ul", {}, ...items));
}

function compositionOf({ parts, made, resolution_g }) {
  const bases = parts.map(({ glass }) => blended([{ wt: glass.wt, mass_g: 1 }], resolution_g).wt);
  const rowsOf = Object.keys(made.wt).filter((name) => made.wt[name] > 0).map((name) => [formulas(name), percent(made.wt[name], made.u[name]), ...bases.map((wt) => (wt[name] ?? 0).toFixed(2))]);
  return make("details", {}, make("summary", { textContent: "Composition" }), table("wt%, brought to 100; ± 95 % from the balance alone", ["Oxide", "Blend", ...parts.map(({ glass }) => glass.name)], rowsOf));
}

function refresh() {
  state.plan = judged(planOf, "Choose two glasses or more, and how much of each.");
  keeping.begin(state.plan ? JSON.stringify(state.plan.parts.map(({ glass, mass_g }) => [glass.key, mass_g])) : "");
  at("keep-part").hidden = !state.plan;
  if (!state.plan) return;
  const { parts, made, line, share } = state.plan;
  const caption = `From ${parts[0].glass.name} (left) to ${parts.length > 2 ? "the others in their proportions" : parts[1].glass.name} (right), with 95 % band; the upright line is this blend`;
  at("answer").replaceChildren(make("p", { className: "lead", textContent: leadWords(state.plan) }), make("p", { textContent: expansionWords(made) }),
    make("figure", { className: "changes" }, make("figcaption", { textContent: caption }), ...mixingPictures(line, share)), fitNodes(state.plan), compositionOf(state.plan),
    ...parts.map(({ glass }) => totalWords(tool, glass)).filter(Boolean).map((textContent) => make("p", { className: "small", textContent })),
    ...fumeWords(parts.map(({ glass, report }) => ({ name: glass.name, report }))),
    make("p", { className: "small", textContent: "Reckoned as if all of it melts to one glass. Pieces that only sinter, or are stirred too little, stay as streaks with stress between them." }));
}

// The beginning and the end of a name: what sets members of a series apart stands at the end.
function shortened(name, most) {
  return name.length <= most ? name : `${name.slice(0, Math.ceil(most * 0.45))}…${name.slice(-Math.floor(most * 0.5))}`;
}

function bodyOf({ parts, made, resolution_g }) {
  const recipe = parts.map(({ glass, mass_g }) => `${grams(mass_g, resolution_g)} g ${glass.name}`).join(", ");
  const name = `Blend: ${parts.map(({ glass, mass_g }) => `${Math.round((100 * mass_g) / made.mass_g)} % ${shortened(glass.name, Math.floor(100 / parts.length) - 5)}`).join(", ")}`;
  return glassBody({ name, family: parts[0].glass.family, source: `Made here: ${recipe}` }, made.wt, made.sd, { glasses: parts.map(({ glass, mass_g }) => partOf(glass, mass_g)), compounds: [] });
}

addRow(new URLSearchParams(location.search).get("g") ?? "");
addRow();
const draft = new Draft(at("blend"), addRow);
const keeping = new Keeping(draft);
draft.restore();
for (const { pick } of rows) pick.again();
at("another").addEventListener("click", () => addRow());
follow(at("blend"), refresh);
at("keep").addEventListener("click", () => keeping.keep([{ body: bodyOf(state.plan), warning: labelWarning(state.plan.parts.map(({ report }) => report)) }]));
refresh();
document.documentElement.dataset.ready = "blend";
