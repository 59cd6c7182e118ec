// What colouring comes to, drawn: what to weigh, the bars of base and members, the changes, and what is told of each compound.
import { curveOf } from "../glass/data.js";
import { heatBar, scaleFor } from "../glass/heatbar.js";
import { formulas } from "../glass/refusal.js";
import "../glass/viscosity.js";
import { make } from "../web/parts.js";
import { unseenWt } from "./change.js";
import { CHANGES, changePictures } from "./picture.js";

const UNSEEN_WT = 0.05;
// Usual tolerances of fused and bead work in 1e-7/K: common practice, no source.
export const FINE_1E7_K = 2; // beyond, a piece of two glasses does not simply hold
const FITS = [[1, "as one glass"], [FINE_1E7_K, "fine for beads"], [5, "thin decoration may hold, big dots and casings crack"], [10, "cracks on cooling or in days"], [Infinity, "shatters"]];

/** Grams with the digits that the balance has. */
export function grams(mass_g, resolution_g) {
  return mass_g.toFixed(Math.max(0, Math.round(-Math.log10(resolution_g))));
}

const rounded = (x, digits = 0) => {
  const text = Math.abs(x).toFixed(digits);
  return `${x < 0 && Number(text) !== 0 ? "−" : ""}${text}`;
};

/** wt% with as many digits as its ± has sense for. */
export function percent(wt, u) {
  const digits = u > 0 ? Math.min(4, Math.max(1, Math.ceil(-Math.log10(2 * u)))) : 2;
  return `${wt.toFixed(digits)}${u > 0 ? ` ± ${(2 * u).toFixed(digits)}` : ""}`;
}

/** A table with a caption; the first cell of a row is its head. */
export function table(caption, heads, rows, className = "") {
  const head = make("tr", {}, ...heads.map((text, i) => Object.assign(make("th", { className: i ? "n" : "", textContent: text }), { scope: "col" })));
  const body = rows.map(([first, ...cells]) => make("tr", {}, Object.assign(make("th", { textContent: first }), { scope: "row" }), ...cells.map((cell) => make("td", { className: "n" }, cell))));
  return make("div", { className: "wide", tabIndex: 0 }, make("table", { className }, make("caption", { textContent: caption }), make("thead", {}, head), make("tbody", {}, ...body)));
}

function weighTable({ members, names, resolution_g }) {
  const rows = members.map((one) => [
    one.name,
    ...one.weighed.map((w) => make("strong", { textContent: `${grams(w.mass_g, resolution_g)} g` })),
    ...names.map(({ oxide }) => percent(one.united[oxide] ?? 0, one.u[oxide] ?? 0)),
  ]);
  const heads = ["", ...names.map(({ name }) => (names.length > 1 ? name : "Weigh")), ...names.map(({ oxide }) => `${formulas(oxide)}, wt%`)];
  return table("± 95 %, from what the balance can tell alone. Purity and what leaves as fume are not in it.", heads, rows, "weigh");
}

function curves(base, members) {
  const known = [["Base", base], ...members.map((one) => [one.name, one.report])].map(([name, report]) => curveOf("", name, report)).filter(Boolean);
  if (known.length < 2) return [];
  const ends = [Math.min(...known.map(({ points }) => points.strain)), Math.max(...known.map(({ points }) => points.working))];
  const scale = scaleFor(ends);
  const head = document.createElement("heat-scale");
  head.setAttribute("scale", scale.join(" "));
  const chart = document.createElement("viscosity-chart");
  chart.curves = known.slice(0, 6);
  const bars = known.flatMap((curve) => [make("p", { className: "bar-name", textContent: curve.name }), heatBar(curve, scale)]);
  const figure = make("figure", { className: "viscosity" }, make("figcaption", { textContent: "Viscosity of base and coloured glass as they cool" }), chart);
  return [make("details", {}, make("summary", { textContent: "Bars and curves" }), head, ...bars, figure)];
}

function changeCell(found, unit) {
  if (!found) return "no estimate";
  const digits = unit === "K" || found.u95 >= 3 ? 0 : 1;
  return `${found.by > 0 && rounded(found.by, digits) !== rounded(0, digits) ? "+" : ""}${rounded(found.by, digits)} ± ${rounded(found.u95, digits)}`;
}

function changeFigure(members) {
  return make("figure", { className: "changes" }, make("figcaption", { textContent: "Change against the base, with 95 % interval" }), ...changePictures(members));
}

function changeTable(members) {
  const rows = members.map((one) => [one.name, ...CHANGES.map(([part, , unit]) => changeCell(one.change[part], unit))]);
  return make("details", {}, make("summary", { textContent: "The changes in numbers" }), table("± 95 %, in K, and in 10⁻⁷/K for expansion", ["", ...CHANGES.map(([, label]) => label)], rows));
}

/** The member whose expansion is furthest from the base's; one without an estimate before all. */
export function worstFit(members) {
  const gap = ({ change: { alpha } }) => (alpha ? Math.abs(alpha.by) : Infinity);
  return members.reduce((worst, one) => (gap(one) > gap(worst) ? one : worst));
}

function fitNode(members) {
  const worst = worstFit(members);
  return make("p", { id: "fit", textContent: `${members.length > 1 ? `On its base the worst of these, ${worst.name}. ` : "On its base. "}${fitWords(worst.change.alpha)}` });
}

/** How two glasses hold together whose expansion differs by so many 1e-7/K. */
export const fitStep = (gap) => FITS.find(([most]) => gap <= most)[1];

/** Whether the coloured glass fits its base, by the best guess and by the whole interval. */
export function fitWords(alpha) {
  if (!alpha) return "Whether it fits its base cannot be said: there is no estimate of its expansion.";
  const [best, worst] = [fitStep(Math.abs(alpha.by)), fitStep(Math.abs(alpha.by) + alpha.u95)];
  const sure = best === worst ? "" : ` At the end of the interval: ${worst}. A strip of both, looked at through the polarisers, settles it.`;
  return `By the best guess: ${best}.${sure} These steps are common practice, without a source.`;
}

function unseenWords(base, members) {
  const found = ["viscosity", "expansion"].filter((quantity) => members.some((one) => unseenWt(base, one.report, quantity) > UNSEEN_WT)).map((quantity) => `of ${quantity}`);
  return found.length ? [make("p", { className: "notice caution", textContent: `No model ${found.join(" or ")} that answered knows all of what was added. What is shown of it is the thinning of the base alone.` })] : [];
}

const CLOUDS_ABOVE_WT = 3; // of tin and antimony oxide: what does not dissolve makes a suspension

function cloudWords(members) {
  const clouds = members.some(({ made: { wt } }) => (wt.SnO2 ?? 0) + (wt.Sb2O3 ?? 0) + (wt.Sb2O5 ?? 0) > CLOUDS_ABOVE_WT);
  return clouds ? [make("p", { className: "notice caution", textContent: "Much of this stays as crystals. They stiffen the glass beyond what is shown, which is of the clear glass between them; expect it to work hotter." })] : [];
}

function toldOf(compound, { usual, redox }) {
  const range = usual[compound.oxide];
  const source = range && { memory: " (from memory)", mixed: ` (${range.source})` }[range.status];
  const told = [range && `In ancient glass ${range.text}${source}.`, redox[compound.oxide], compound.note].filter(Boolean);
  return make("p", {}, make("strong", { textContent: `${compound.name}. ` }), formulas(`${told.join(" ")} What it does in the melt is common practice, without a source.`));
}

/** What may harm in these ({hazards: [class]}), by class. */
export function harm(compounds, { hazards, hazards_status }) {
  const classes = [...new Set(compounds.flatMap((one) => one.hazards))];
  if (!classes.length) return [];
  return [make("div", { className: "notice caution harm" }, make("p", {}, make("strong", { textContent: "These can harm." })), make("ul", {}, ...classes.map((key) => make("li", { textContent: hazards[key] }))), make("p", { className: "small", textContent: hazards_status }))];
}

/** What glasses ({name, report}) give off or hold that poisons, by their analyses. */
export function fumeWords(glasses) {
  const found = glasses.flatMap(({ name, report }) => report.notes.filter(({ code }) => code.startsWith("hazard_")).map(({ text }) => ({ name, text })));
  return found.map(({ name, text }) => make("p", { className: "notice caution harm" }, make("strong", { textContent: `${name}. ` }), formulas(text)));
}

/** What stands on a label: what in it can poison, and what no such glass is for. reports of the glasses in it, compounds [{hazards}], data {hazards, poisons}. */
export function labelWarning(reports, compounds = [], { hazards, poisons } = { hazards: {}, poisons: [] }) {
  const classes = [...new Set(compounds.flatMap((one) => one.hazards))].filter((key) => poisons.includes(key)).map((key) => hazards[key].split(":")[0].toLowerCase());
  const fumes = reports.some((report) => report.notes.some(({ code }) => code.startsWith("hazard_"))) ? ["poisonous by its analysis"] : [];
  return [[...classes, ...fumes].join(", "), "not for food or drink"].filter(Boolean).map((words) => words[0].toUpperCase() + words.slice(1)).join(". ") + ".";
}

function composition(members) {
  const names = [...new Set(members.flatMap((one) => Object.keys(one.made.wt).filter((name) => one.made.wt[name] > 0)))];
  const rows = names.map((name) => [formulas(name), ...members.map((one) => (one.made.wt[name] ?? 0).toFixed(3))]);
  return make("details", {}, make("summary", { textContent: "Composition" }), table("wt%, brought to 100", ["Oxide", ...members.map(({ name }) => name)], rows));
}

function leadWords({ members, names, resolution_g, base_g, baseName }) {
  if (members.length > 1) return `${members.length} members on ${grams(base_g, resolution_g)} g of ${baseName} each.`;
  const told = members[0].weighed.map((w, i) => `${grams(w.mass_g, resolution_g)} g of ${names[i].name}`);
  return `Weigh ${told.join(" and ")} into ${grams(base_g, resolution_g)} g of ${baseName}.`;
}

function coarseWords({ members, resolution_g }) {
  const all = members.flatMap((one) => one.weighed);
  const coarse = all.some((w) => w.mass_g > 0 && w.mass_g < 10 * resolution_g);
  return coarse ? [make("p", { className: "notice", textContent: "One of these is so little that the balance rounds a tenth of it away or more. Take more base, or first mix the compound well with ten times its mass of powdered base and weigh of that." })] : [];
}

/** Nodes that show a plan: {base (report), baseName, base_g, resolution_g, totalWords, names (compounds), members: [{name, weighed, made, united (its wt% with each element in one form), u, report, change}]}. */
export function answerNodes(plan, data) {
  const { base, members, names } = plan;
  return [
    make("p", { className: "lead", textContent: leadWords(plan) }),
    weighTable(plan), ...coarseWords(plan), ...(plan.totalWords ? [make("p", { className: "small", textContent: plan.totalWords })] : []), ...harm(names, data), ...fumeWords([{ name: plan.baseName, report: base }]), changeFigure(members), ...unseenWords(base, members), ...cloudWords(members),
    fitNode(members), changeTable(members), ...curves(base, members), composition(members),
    ...names.map((one) => toldOf(one, data)),
  ];
}
