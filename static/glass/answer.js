// The estimate of the analysis being typed, as the page shows it. Words come from the model bundle's sentences.
import { curveOf } from "./data.js";
import { formulas, why, whyNone } from "./refusal.js";
import { heatBar, scaleFor } from "./heatbar.js";
import "./viscosity.js";

const POINTS = [["working", "Working", "4"], ["softening", "Softening", "7.6"], ["annealing", "Annealing", "13"], ["strain", "Strain", "–"]];
const STATES = { answered: "answered", extrapolated: "carried further", stood_aside: "stood aside", refused: "refused" };
const LEFT_OUT = "could be carried further, left out";
const ANALYSIS_REFUSED = new Set(["unreadable", "weathered_surface", "no_silica", "total_refused", "weathered_layer"]);
const NO_CURVE = new Set([...ANALYSIS_REFUSED, "no_viscosity_model", "no_sound_curve"]);
const SAFETY_END = " Your local rules and the safety data sheets come first.";

function el(tag, properties = {}, ...children) {
  const node = Object.assign(document.createElement(tag), properties);
  node.append(...children);
  return node;
}

function lead(tool, report) {
  const { softening, working } = report.points;
  const onTrust = has(report, "total_trust") || has(report, "weathered_suspect");
  const code = has(report, "viscosity_extrapolated") ? "lead_extrapolated" : onTrust ? "lead_on_trust" : "lead_ok";
  return tool.sentence(code, { soft: softening.t_c, soft_u: softening.u_k, work: working.t_c });
}

function pointTable(points) {
  const head = ["Point", "°C", "± 68 %", "± 95 %", "log η, dPa·s"].map((text, i) => el("th", { textContent: text, className: i ? "n" : "" }));
  const rows = POINTS.map(([key, label, log]) => {
    const { t_c, u_k, u95_k } = points[key];
    const cells = [Math.round(t_c), Math.round(u_k), Math.round(u95_k), log];
    return el("tr", {}, el("th", { textContent: label }), ...cells.map((text) => el("td", { className: "n", textContent: text })));
  });
  return el("div", { className: "wide", tabIndex: 0 }, el("table", { className: "points" }, el("thead", {}, el("tr", {}, ...head)), el("tbody", {}, ...rows)));
}

function expansion(tool, report) {
  const { alpha } = report;
  const lacking = has(report, "no_expansion_model") ? whyNone(tool, report, "expansion") : "";
  if (!alpha) return el("p", { textContent: formulas(`Expansion: no estimate${lacking && `: ${lacking}`}.`) });
  const further = alpha.state === "extrapolated" ? ", carried further than the models' bounds" : "";
  return el("p", {}, "Expansion, 20–300 °C: ", el("strong", { textContent: Math.round(alpha.value_1e7_k) }), ` ± ${Math.round(alpha.u_1e7_k)} × 10⁻⁷/K${further}.`);
}

function modelItems(tool, report, verdicts) {
  const byKey = Object.fromEntries(tool.data.models.map((model) => [model.key, model]));
  return verdicts.map((v) => {
    const reason = why(tool, v, byKey[v.model], report);
    return el("li", { textContent: formulas(`${byKey[v.model].name} (${v.quantity}): ${v.state === "extrapolated" && !v.used ? LEFT_OUT : STATES[v.state]}${reason ? `: ${reason}` : ""}`) });
  });
}

function models(tool, report) {
  const verdicts = report.verdicts.filter((v) => report.points || v.quantity !== "viscosity");
  const family = el("p", { className: "small", textContent: `Family: ${report.family.label}. ${tool.data.rules.combination}` });
  return el("details", {}, el("summary", { textContent: "Which models answered" }), el("ul", {}, ...modelItems(tool, report, verdicts)), family);
}

const has = (report, code) => report.notes.some((note) => note.code === code);
const isRefused = (report) => report.notes.some((note) => ANALYSIS_REFUSED.has(note.code));

// One calm box: that there are no working temperatures, why, and folded what each model says.
function noCurve(tool, report) {
  const reason = whyNone(tool, report, "viscosity");
  const told = has(report, "no_viscosity_model")
    ? `No viscosity model may answer${reason && `: ${reason}`}.`
    : report.notes.filter((note) => NO_CURVE.has(note.code)).map((note) => note.text).join(" ");
  const box = el("div", { className: "notice", id: "no-curve" }, el("p", {}, el("strong", { textContent: "No working temperatures. " }), formulas(told)));
  if (isRefused(report)) return box;
  const items = modelItems(tool, report, report.verdicts.filter((v) => v.quantity === "viscosity"));
  box.append(el("details", {}, el("summary", { textContent: "What each viscosity model says" }), el("ul", {}, ...items)));
  return box;
}

// Everything else to beware of in one box, what several have in common said once; then the plain remarks.
function notes(report) {
  const told = report.notes.filter((note) => note.caution && !NO_CURVE.has(note.code)).map((note) => note.text);
  told.sort((one, other) => other.endsWith(SAFETY_END) - one.endsWith(SAFETY_END));
  const last = told.findLastIndex((text) => text.endsWith(SAFETY_END));
  const texts = told.map((text, i) => formulas(i < last ? text.slice(0, -SAFETY_END.length) : text));
  const strong = el("strong", { textContent: "Caution. " });
  const nodes = report.notes.filter((note) => !note.caution && note.code !== "no_expansion_model").map((note) => el("p", { className: "small", textContent: formulas(note.text) }));
  if (texts.length === 1) nodes.unshift(el("p", { className: "notice caution" }, strong, texts[0]));
  if (texts.length > 1) nodes.unshift(el("div", { className: "notice caution" }, el("p", {}, strong), el("ul", {}, ...texts.map((textContent) => el("li", { textContent })))));
  return nodes;
}

/** Why no way to the flame is offered, empty where one is; the twin of no_flame() in server/glass/view.py. */
export function noFlame(tool, report) {
  if ((report.wt.PbO ?? 0) > tool.data.rules.flame.lead_above_wt) return tool.sentence("no_flame_lead", {});
  return has(report, "weathered_surface") || has(report, "weathered_layer") ? tool.sentence("no_flame_weathered", {}) : "";
}

/** What the way to the flame is called: quieter where the analysis shows a poison, or there is no estimate. */
export function flameWords(report) {
  return !report.points || report.notes.some((note) => note.code.startsWith("hazard_")) ? "Time a trial all the same" : "Try it in the flame";
}

/** Nodes that show a report. */
export function answerNodes(tool, report, name, method) {
  const nodes = [report.points ? el("p", { className: "lead", textContent: lead(tool, report) }) : noCurve(tool, report), ...notes(report)];
  const curve = curveOf("", name || "This analysis", report);
  if (curve) {
    const scale = scaleFor([curve.points.strain, curve.points.working]);
    const head = document.createElement("heat-scale");
    head.setAttribute("scale", scale.join(" "));
    const chart = document.createElement("viscosity-chart");
    const label = tool.data.analysis.methods.find((m) => m.key === method).label;
    const share = el("p", { className: "small", textContent: tool.sentence("analysis_share", { method: label, ...report.analysis_u }) });
    nodes.push(head, heatBar(curve, scale), pointTable(report.points), share);
    const { width_k, from_c, to_c } = report.range;
    nodes.push(el("p", {}, "Working range: ", el("strong", { textContent: `${Math.round(width_k)} K wide` }), `, from ${Math.round(from_c)} to ${Math.round(to_c)} °C.`));
    nodes.push(expansion(tool, report), el("figure", { className: "viscosity" }, el("figcaption", { textContent: "Viscosity as it cools" }), chart));
    chart.curves = [curve];
  } else {
    nodes.push(expansion(tool, report));
  }
  return isRefused(report) ? nodes : [...nodes, models(tool, report)];
}
