// The changes that colouring makes, as a picture: for each property a line through nothing, and for each member a dot with its 95 % interval.
import { linear, roundStep, svg } from "../glass/svg.js";

const [WIDTH, LEFT, RIGHT, ROW, TOP] = [360, 118, 12, 26, 34];

function reach(found) {
  const ends = found.flatMap((one) => (one ? [one.by - one.u95, one.by + one.u95] : []));
  return Math.max(1, ...ends.map(Math.abs)) * 1.08;
}

function panel({ label, unit, found, names }) {
  const most = reach(found);
  const x = linear([-most, most], [LEFT, WIDTH - RIGHT]);
  const bottom = TOP + found.length * ROW;
  const marks = [-1, 1].map((sign) => sign * roundStep(most / 3));
  const words = found.map((one, i) => `${names[i]} ${one ? `${one.by.toFixed(1)} ± ${one.u95.toFixed(1)}` : "no estimate"}`).join("; ");
  return svg("svg", { viewBox: `0 0 ${WIDTH} ${bottom + 22}`, class: "chart change", role: "img", "aria-label": `${label}, change in ${unit}: ${words}` },
    svg("text", { x: 0, y: 16, class: "change-word" }, `${label}, ${unit}`),
    svg("line", { x1: x(0), x2: x(0), y1: TOP - 8, y2: bottom, class: "axis" }),
    svg("text", { x: x(0), y: bottom + 16, "text-anchor": "middle", class: "label-soft" }, "0"),
    ...marks.flatMap((at) => [svg("line", { x1: x(at), x2: x(at), y1: TOP - 8, y2: bottom, class: "grid" }), svg("text", { x: x(at), y: bottom + 16, "text-anchor": "middle", class: "label-soft" }, `${at > 0 ? "+" : "−"}${Number(Math.abs(at).toPrecision(2))}`)]),
    ...found.flatMap((one, i) => row(one, names[i], x, TOP + i * ROW + ROW / 2)));
}

function row(one, name, x, y) {
  const word = svg("text", { x: 0, y: y + 5, class: "label-soft" }, name.length > 16 ? `${name.slice(0, 15)}…` : name);
  if (!one) return [word, svg("text", { x: LEFT, y: y + 5, class: "label-soft" }, "no estimate")];
  return [word, svg("line", { x1: x(one.by - one.u95), x2: x(one.by + one.u95), y1: y, y2: y, class: "change-line" }), svg("circle", { cx: x(one.by), cy: y, r: 5, class: "change-dot" })];
}

/** One panel for each [part, label, unit]; members: [{name, change}]. */
export function changePictures(members, changes) {
  return changes.map(([part, label, unit]) => panel({ label, unit, found: members.map(({ change }) => change[part]), names: members.map(({ name }) => name) }));
}
