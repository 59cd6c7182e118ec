// A kiln programme drawn: the curve, the lines for a controller, and what to beware of.
import { linear, svg } from "../glass/svg.js";
import { make } from "../web/parts.js";
import { FINE_1E7_K, fitStep, table } from "./answer.js";

const DRAWN = 1.5; // of the plan's hours: a reading of days later would squash the picture
const [WIDTH, HEIGHT, LEFT, RIGHT, TOP, BOTTOM] = [420, 230, 46, 14, 20, 30];
const KINDS = { heat: "Heat", down: "Down", slow: "Slow", fast: "Faster" };
const WARNINGS = {
  no_shared_soak: "These glasses cannot share a soak: where the stiffest would lose its stress in half a day, the softest loses its shape. What is made of both keeps its stress: do not wear it or give it away.",
  long_shared_soak: "These glasses share a soak only at a temperature that is low for the stiffest, so it is held longer. The softest is at the edge of losing its shape.",
  low_shared_soak: "The softest of these is at the edge of losing its shape at this soak, which is a little lower than the stiffest alone would get.",
  no_expansion: "The expansion of one of them is not known; that of a usual soda-lime glass, 95 × 10⁻⁷/K, stands in for it.",
};

/** Hours as "3 h 10 min"; from three days on as days. */
export function hoursWords(hours) {
  if (hours >= 72) return `${Math.round(hours / 24)} days`;
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
  const drawn = readings.filter(({ h }) => h <= DRAWN * corners.at(-1).h);
  const [last, top] = [Math.max(corners.at(-1).h, ...drawn.map(({ h }) => h)), Math.max(...corners.map(({ t_c }) => t_c), ...drawn.map(({ t_c }) => t_c))];
  const [x, y] = [linear([0, last], [LEFT, WIDTH - RIGHT]), linear([0, top * 1.06], [HEIGHT - BOTTOM, TOP])];
  const stepC = top > 700 ? 200 : 100;
  const stepH = [0.25, 0.5, 1, 2, 4, 6, 12, 24, 48, 120, 240].find((one) => last / one <= 7) ?? 480;
  const picture = svg("svg", { viewBox: `0 0 ${WIDTH} ${HEIGHT}`, class: "chart firing", role: "img", "aria-label": `Soak at ${Math.round(plan.soak_c)} °C; ${hoursWords(plan.hours)} in all; may be opened below ${Math.round(plan.open_c)} °C` });
  for (let t = 0; t <= top * 1.06; t += stepC) picture.append(svg("line", { x1: LEFT, x2: WIDTH - RIGHT, y1: y(t), y2: y(t), class: "grid" }), svg("text", { x: LEFT - 6, y: y(t) + 4, "text-anchor": "end", class: "label-soft" }, t));
  for (let h = 0; h <= last; h += stepH) picture.append(svg("text", { x: x(h), y: HEIGHT - 8, "text-anchor": "middle", class: "label-soft" }, h ? `${h} h` : "0"));
  for (const t_c of [plan.soak_c, plan.open_c]) picture.append(svg("line", { x1: LEFT, x2: WIDTH - RIGHT, y1: y(t_c), y2: y(t_c), class: "firing-mark" }));
  picture.append(svg("path", { d: `M${corners.map(({ h, t_c }) => `${x(h).toFixed(1)} ${y(t_c).toFixed(1)}`).join("L")}`, class: "firing-line" }));
  // Words last, in the middle below the curve and at its right above: their rim keeps them clear of the line.
  picture.append(svg("text", { x: WIDTH - RIGHT, y: y(plan.soak_c) - 5, "text-anchor": "end", class: "label-soft" }, `soak ${Math.round(plan.soak_c)} °C`));
  picture.append(svg("text", { x: (LEFT + WIDTH - RIGHT) / 2, y: y(plan.open_c) - 5, "text-anchor": "middle", class: "label-soft" }, `open below ${Math.round(plan.open_c)} °C`));
  for (const one of drawn) picture.append(svg("circle", { cx: x(one.h), cy: y(one.t_c), r: 5, class: "change-dot" }));
  return picture;
}

function stressCell({ kind, stress_pa }) {
  if (kind === "down" || stress_pa === 0) return "–";
  const mpa = stress_pa / 1e6;
  return make("span", {}, `${mpa.toFixed(mpa < 1 ? 2 : 1)} `, make("span", { className: "below", textContent: kind === "slow" ? "stays" : "passes" }));
}

function rateWords({ rate_k_h, is_by_kiln }) {
  return `${rate_k_h < 10 ? rate_k_h.toFixed(1) : Math.floor(rate_k_h)}${is_by_kiln ? " *" : ""}`;
}

export function linesTable({ segments }) {
  const rows = segments.map((one) => [KINDS[one.kind], rateWords(one), String(Math.round(one.to_c)), one.hold_min ? String(Math.ceil(one.hold_min)) : "0", stressCell(one)]);
  return table("For the controller: rate in K/h, target in °C, hold in minutes. stress in MPa. * as fast as the kiln does it", ["Step", "Rate", "Target", "Hold", "MPa"], rows, "weigh");
}

function leadWords({ segments, soak_c, open_c, hours, warnings }) {
  const soak = segments.find((one) => Math.round(one.to_c) === Math.round(soak_c));
  const slow = segments.find(({ kind }) => kind === "slow");
  const told = `${Math.round(soak_c)} °C for ${Math.ceil(soak.hold_min)} min, then ${rateWords(slow).replace(" *", "")} K/h down to ${Math.round(slow.to_c)} °C`;
  if (warnings.includes("no_shared_soak")) return `These glasses cannot be annealed in one piece. What comes nearest is ${told}.`;
  return `Soak at ${told}. ${hoursWords(hours)} in all; open it below ${Math.round(open_c)} °C.`;
}

/** What two glasses of a piece mean for each other, the worst pair first: annealing takes none of it away. glasses: [{key, name, alpha: [value, u] or null}]. */
function misfitNodes(glasses) {
  const known = glasses.filter(({ alpha }) => alpha);
  const pairs = known.flatMap((a, i) => known.slice(i + 1).map((b) => ({ a, b, by: Math.abs(a.alpha[0] - b.alpha[0]), u95: 2 * Math.hypot(a.alpha[1], b.alpha[1]) })));
  const worst = pairs.sort((x, y) => y.by - x.by)[0];
  if (!worst || worst.by <= FINE_1E7_K) return [];
  const words = `${worst.a.name} and ${worst.b.name} differ by ${Math.round(worst.by)} ± ${Math.round(worst.u95)} × 10⁻⁷/K in expansion. By the best guess: ${fitStep(worst.by)} (common practice, no source). No annealing takes that stress away; what is shown below is of the cooling alone. `;
  const isListed = worst.a.key && worst.b.key;
  const link = make("a", { className: "onward", href: `/pair?a=${encodeURIComponent(worst.a.key)}&b=${encodeURIComponent(worst.b.key)}`, textContent: "Will one hold on the other?" });
  return [make("div", { className: "notice caution", id: "misfit" }, make("p", { textContent: words }), ...(isListed ? [make("p", {}, link)] : []))];
}

function soakWords({ soak_c, warnings }, glasses, { soak }) {
  const points = glasses.map(({ name, curve }) => `${name}: annealing point ${Math.round(curve.points.annealing)}${curve.u.annealing ? ` ± ${Math.round(curve.u.annealing)}` : ""} °C`).join("; ");
  const by = Math.round(soak_c - Math.max(...glasses.map(({ curve }) => curve.points.annealing)));
  const where = warnings.some((code) => code.endsWith("shared_soak")) ? `${Math.abs(by)} K ${by < 0 ? "below" : "above"} the highest, where the softest still keeps its shape` : `${by} K above the highest, for what its figure may be wrong by`;
  return `${points}. The soak lies ${where}, and the slow part runs to ${soak.below_strain_k} K below the lowest strain point.`;
}

// For paper: which piece this is of.
function pieceWords(glasses, piece, wish, data) {
  const shape = data.shapes[piece.shape];
  return `${shape.label}, ${shape.size.toLowerCase()} ${piece.size_mm} mm, of ${glasses.map(({ name }) => name).join(" with ")}. Stress: ${data.aims[wish.aim].label.toLowerCase()}; safety: ${data.care[wish.care].label.toLowerCase()}.`;
}

const crawls = ({ segments }) => segments.some(({ rate_k_h }) => rate_k_h < 1);

/** Nodes that show a programme; glasses: [{key, name, curve, alpha}] of the list. */
export function answerNodes(plan, glasses, piece, wish, data) {
  return [
    make("p", { className: "lead", textContent: leadWords(plan) }), make("p", { className: "print-only", textContent: pieceWords(glasses, piece, wish, data) }),
    ...misfitNodes(glasses),
    ...plan.warnings.map((code) => make("p", { className: `notice${code.endsWith("soak") ? " caution" : ""}`, textContent: WARNINGS[code] })),
    ...(crawls(plan) ? [make("p", { className: "notice", textContent: "Hardly any controller holds less than 1 K/h: a piece so thick is better made thinner." })] : []),
    make("figure", { className: "changes" }, make("figcaption", { textContent: "The firing" }), firingPicture(plan)), linesTable(plan),
    make("p", { textContent: `Garage, while more is made: ${Math.round(plan.garage_c)} °C. In bare hands only below ${data.bare_hand_c} °C.` }),
    make("p", { className: "small", textContent: soakWords(plan, glasses, data) }),
    make("p", { className: "small", textContent: `Every rate is divided by ${data.care[wish.care].factor} for safety, and the slow one by ${data.structural} for structural relaxation. Stresses are those of a plain shape of usual soda-lime glass; cracks, sharp inner corners, thick next to thin and glasses that do not fit break sooner. ${data.aims_status} ${data.care_status} ${data.temporary_status}` }),
  ];
}
