// A kiln programme drawn: the curve, the lines for a controller, and what to beware of.
import { linear, svg } from "../glass/svg.js";
import { make } from "../web/parts.js";
import { table } from "./answer.js";

const [WIDTH, HEIGHT, LEFT, RIGHT, TOP, BOTTOM] = [420, 230, 46, 14, 20, 30];
const KINDS = { heat: "Heat", down: "Down", slow: "Slow", fast: "Faster" };
const WARNINGS = {
  no_shared_soak: "These glasses cannot share a soak: where the stiffest would lose its stress in half a day, the softest loses its shape. What is made of both keeps its stress: do not wear it or give it away.",
  long_shared_soak: "These glasses share a soak only at a temperature that is low for the stiffest, so it is held longer. The softest is at the edge of losing its shape.",
  no_expansion: "The expansion of one of them is not known; that of a usual soda-lime glass, 95 × 10⁻⁷/K, stands in for it.",
};

/** Hours as "3 h 10 min". */
export function hoursWords(hours) {
  const minutes = Math.round(hours * 60);
  return minutes < 60 ? `${minutes} min` : `${Math.floor(minutes / 60)} h ${minutes % 60} min`;
}

/** The corners of a programme: [{h, t_c}]. */
export function cornersOf({ segments }) {
  const found = [{ h: 0, t_c: segments[0].from_c }];
  for (const one of segments) {
    const h = found.at(-1).h + Math.abs(one.to_c - one.from_c) / one.rate_k_h;
    found.push({ h, t_c: one.to_c });
    if (one.hold_min) found.push({ h: h + one.hold_min / 60, t_c: one.to_c });
  }
  return found;
}

/** The curve with the soak and the temperature of opening; readings [{h, t_c}] of a real firing as dots. */
export function firingPicture(plan, readings = []) {
  const corners = cornersOf(plan);
  const [last, top] = [Math.max(corners.at(-1).h, ...readings.map(({ h }) => h)), Math.max(...corners.map(({ t_c }) => t_c), ...readings.map(({ t_c }) => t_c))];
  const [x, y] = [linear([0, last], [LEFT, WIDTH - RIGHT]), linear([0, top * 1.06], [HEIGHT - BOTTOM, TOP])];
  const stepC = top > 700 ? 200 : 100;
  const stepH = [0.25, 0.5, 1, 2, 4, 6, 12, 24].find((one) => last / one <= 7) ?? 48;
  const picture = svg("svg", { viewBox: `0 0 ${WIDTH} ${HEIGHT}`, class: "chart firing", role: "img", "aria-label": `Soak at ${Math.round(plan.soak_c)} °C; ${hoursWords(plan.hours)} in all; may be opened below ${Math.round(plan.open_c)} °C` });
  for (let t = 0; t <= top * 1.06; t += stepC) picture.append(svg("line", { x1: LEFT, x2: WIDTH - RIGHT, y1: y(t), y2: y(t), class: "grid" }), svg("text", { x: LEFT - 6, y: y(t) + 4, "text-anchor": "end", class: "label-soft" }, t));
  for (let h = 0; h <= last; h += stepH) picture.append(svg("text", { x: x(h), y: HEIGHT - 8, "text-anchor": "middle", class: "label-soft" }, h ? `${h} h` : "0"));
  for (const t_c of [plan.soak_c, plan.open_c]) picture.append(svg("line", { x1: LEFT, x2: WIDTH - RIGHT, y1: y(t_c), y2: y(t_c), class: "firing-mark" }));
  picture.append(svg("path", { d: `M${corners.map(({ h, t_c }) => `${x(h).toFixed(1)} ${y(t_c).toFixed(1)}`).join("L")}`, class: "firing-line" }));
  // Words last, in the middle below the curve and at its right above: their rim keeps them clear of the line.
  picture.append(svg("text", { x: WIDTH - RIGHT, y: y(plan.soak_c) - 5, "text-anchor": "end", class: "label-soft" }, `soak ${Math.round(plan.soak_c)} °C`));
  picture.append(svg("text", { x: (LEFT + WIDTH - RIGHT) / 2, y: y(plan.open_c) - 5, "text-anchor": "middle", class: "label-soft" }, `open below ${Math.round(plan.open_c)} °C`));
  for (const one of readings) picture.append(svg("circle", { cx: x(one.h), cy: y(one.t_c), r: 5, class: "change-dot" }));
  return picture;
}

function stressWords({ kind, stress_pa }) {
  if (kind === "down" || stress_pa === 0) return "–";
  const mpa = stress_pa / 1e6;
  return `${mpa.toFixed(mpa < 1 ? 2 : 1)} ${kind === "slow" ? "stays" : "passes"}`;
}

function rateWords({ rate_k_h, is_by_kiln }) {
  return `${rate_k_h < 10 ? rate_k_h.toFixed(1) : Math.floor(rate_k_h)}${is_by_kiln ? " *" : ""}`;
}

export function linesTable({ segments }) {
  const rows = segments.map((one) => [KINDS[one.kind], rateWords(one), String(Math.round(one.to_c)), one.hold_min ? String(Math.ceil(one.hold_min)) : "0", stressWords(one)]);
  return table("For the controller: rate in K/h, target in °C, hold in minutes. stress in MPa. * as fast as the kiln does it", ["Step", "Rate", "Target", "Hold", "MPa"], rows, "weigh");
}

function leadWords({ segments, soak_c, open_c, hours }) {
  const soak = segments.find((one) => Math.round(one.to_c) === Math.round(soak_c));
  const slow = segments.find(({ kind }) => kind === "slow");
  return `Soak at ${Math.round(soak_c)} °C for ${Math.ceil(soak.hold_min)} min, then ${rateWords(slow).replace(" *", "")} K/h down to ${Math.round(slow.to_c)} °C. ${hoursWords(hours)} in all; open it below ${Math.round(open_c)} °C.`;
}

/** Nodes that show a programme; glasses: [{name, curve}] of the list. */
export function answerNodes(plan, glasses, wish, data) {
  const points = glasses.map(({ name, curve }) => `${name}: annealing point ${Math.round(curve.points.annealing)} ± ${Math.round(curve.u.annealing)} °C`);
  const { structural } = data;
  return [
    make("p", { className: "lead", textContent: leadWords(plan) }),
    ...plan.warnings.map((code) => make("p", { className: `notice${code.endsWith("soak") ? " caution" : ""}`, textContent: WARNINGS[code] })),
    make("figure", { className: "changes" }, make("figcaption", { textContent: "The firing" }), firingPicture(plan)), linesTable(plan),
    make("p", { textContent: `Garage, while more is made: ${Math.round(plan.garage_c)} °C. In bare hands only below ${data.bare_hand_c} °C.` }),
    make("p", { className: "small", textContent: `${points.join("; ")}. The soak lies ${data.soak.above_estimate_k} K above the highest, because it is estimated, and the slow part runs to ${data.soak.below_strain_k} K below the lowest strain point.` }),
    make("p", { className: "small", textContent: `Every rate is divided by ${data.care[wish.care].factor} for safety, and the slow one by ${structural} for structural relaxation. Stresses are those of a plain shape, cooled evenly from all sides, of usual soda-lime glass; cracks, sharp inner corners, thick next to thin and glasses that do not fit break sooner. ${data.aims_status} ${data.care_status} ${data.temporary_status}` }),
  ];
}
