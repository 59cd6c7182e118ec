// The mixing line as a picture: how softening, working point, range and expansion run from the first glass to the others, each with its 95 % band, and where the blend lies.
import { linear, roundStep, svg, ticks } from "../glass/svg.js";

const [WIDTH, HEIGHT, LEFT, RIGHT, TOP, BOTTOM] = [420, 150, 52, 14, 30, 26];
const PANELS = [
  ["Softening, °C", (report) => report.points && [report.points.softening.t_c, report.points.softening.u95_k]],
  ["Working point, °C", (report) => report.points && [report.points.working.t_c, report.points.working.u95_k]],
  ["Working range, K", (report) => (report.points && report.range.u95_k !== null ? [report.range.width_k, report.range.u95_k] : null)],
  ["Expansion, × 10⁻⁷/K", (report) => report.alpha && [report.alpha.value_1e7_k, report.alpha.u95_1e7_k]],
];

// Runs of neighbours that have an estimate.
function runs(points) {
  const found = [];
  for (const point of points) {
    if (!point.value) found.push([]);
    else if (found.length) found.at(-1).push(point);
    else found.push([point]);
  }
  return found.filter((run) => run.length > 1);
}

function panel(label, points, share) {
  const known = points.filter(({ value }) => value);
  const words = known.length ? `${label}: ${Math.round(known[0].value[0])} to ${Math.round(known.at(-1).value[0])}` : `${label}: no estimate`;
  const picture = svg("svg", { viewBox: `0 0 ${WIDTH} ${known.length ? HEIGHT : 40}`, class: "chart mixing", role: "img", "aria-label": words }, svg("text", { x: 0, y: 16, class: "change-word" }, known.length ? label : `${label}: no estimate`));
  if (known.length < 2) return picture;
  const ends = [Math.min(...known.map(({ value: [v, u] }) => v - u)), Math.max(...known.map(({ value: [v, u] }) => v + u))];
  const [x, y] = [linear([0, 1], [LEFT, WIDTH - RIGHT]), linear(ends, [HEIGHT - BOTTOM, TOP])];
  for (const at of ticks(ends, roundStep((ends[1] - ends[0]) / 3))) picture.append(svg("line", { x1: LEFT, x2: WIDTH - RIGHT, y1: y(at), y2: y(at), class: "grid" }), svg("text", { x: LEFT - 6, y: y(at) + 4, "text-anchor": "end", class: "label-soft" }, at));
  for (const run of runs(points)) {
    const path = (side) => run.map(({ share: at, value: [v, u] }) => `${x(at).toFixed(1)} ${y(v + side * u).toFixed(1)}`);
    picture.append(svg("path", { d: `M${[...path(1), ...path(-1).reverse()].join("L")}Z`, class: "mixing-band" }), svg("path", { d: `M${path(0).join("L")}`, class: "mixing-line" }));
  }
  for (const at of [0, 0.5, 1]) picture.append(svg("text", { x: x(at), y: HEIGHT - 6, "text-anchor": at ? (at === 1 ? "end" : "middle") : "start", class: "label-soft" }, `${100 * at} %`));
  picture.append(svg("line", { x1: x(share), x2: x(share), y1: TOP - 4, y2: HEIGHT - BOTTOM, class: "mixing-here" }));
  return picture;
}

/** One panel a property. line: [{share (0 to 1 of the others), report}] in order; share: where the blend lies. */
export function mixingPictures(line, share) {
  return PANELS.map(([label, of]) => panel(label, line.map((one) => ({ share: one.share, value: of(one.report) })), share));
}
