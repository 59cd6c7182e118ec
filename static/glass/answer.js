// The estimate of the analysis being typed, as the page shows it. Words come from the model bundle's sentences.
import { curveOf } from "./data.js";
import { heatBar, scaleFor } from "./heatbar.js";
import "./viscosity.js";

const POINTS = [["working", "Working", "4"], ["softening", "Softening", "7.6"], ["annealing", "Annealing", "13"], ["strain", "Strain", "–"]];
const STATES = { answered: "answered", extrapolated: "carried further", stood_aside: "stood aside", refused: "refused" };

function el(tag, properties = {}, ...children) {
  const node = Object.assign(document.createElement(tag), properties);
  node.append(...children);
  return node;
}

function lead(tool, report) {
  if (!report.points) return tool.sentence("lead_refused", {});
  const { softening, working } = report.points;
  const code = report.status === "ok" ? "lead_ok" : "lead_extrapolated";
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

function expansion({ alpha }) {
  if (!alpha) return el("p", { textContent: "Expansion: no estimate." });
  const further = alpha.state === "extrapolated" ? ", carried further than the models' bounds" : "";
  return el("p", {}, "Expansion, 20–300 °C: ", el("strong", { textContent: Math.round(alpha.value_1e7_k) }), ` ± ${Math.round(alpha.u_1e7_k)} × 10⁻⁷/K${further}.`);
}

function models(tool, report) {
  const names = Object.fromEntries(tool.data.models.map((model) => [model.key, model.name]));
  const items = report.verdicts.map((v) => el("li", { textContent: `${names[v.model]} (${v.quantity}): ${STATES[v.state]}` }));
  const family = el("p", { className: "small", textContent: `Family: ${report.family.label}. ${tool.data.rules.combination}` });
  return el("details", {}, el("summary", { textContent: "Which models answered" }), el("ul", {}, ...items), family);
}

/** Nodes that show a report. */
export function answerNodes(tool, report, name, method) {
  const nodes = [el("p", { className: "lead", textContent: lead(tool, report) })];
  for (const note of report.notes) {
    const sentence = note.caution ? [el("strong", { textContent: "Caution. " }), note.text] : [note.text];
    nodes.push(el("p", { className: note.caution ? "notice caution" : "small" }, ...sentence));
  }
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
    nodes.push(expansion(report), el("figure", { className: "viscosity" }, el("figcaption", { textContent: "Viscosity as it cools" }), chart));
    chart.curves = [curve];
  } else {
    nodes.push(expansion(report));
  }
  return [...nodes, models(tool, report)];
}
