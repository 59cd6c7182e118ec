// The changes that colouring makes, as a picture: for each property a line through nothing, and for each member a dot with its 95 % interval.
import { linear, roundStep, svg } from "../glass/svg.js";
import { make } from "../web/parts.js";

const [WIDTH, LEAST_LEFT, MOST_LEFT, SIGN, RIGHT, ROW, TOP] = [360, 60, 190, 7.4, 12, 26, 34];

function reach(found) {
  const ends = found.flatMap((one) => (one ? [one.by - one.u95, one.by + one.u95] : []));
  return Math.max(1, ...ends.map(Math.abs)) * 1.08;
}

function panel({ label, unit, found, names }) {
  const most = reach(found);
  const left = Math.min(MOST_LEFT, Math.max(LEAST_LEFT, 8 + SIGN * Math.max(...names.map((name) => name.length))));
  const x = linear([-most, most], [left, WIDTH - RIGHT]);
  const bottom = TOP + found.length * ROW;
  const marks = [-1, 1].map((sign) => sign * roundStep(most / 3));
  const words = found.map((one, i) => `${names[i]} ${one ? `${one.by.toFixed(1)} ± ${one.u95.toFixed(1)}` : "no estimate"}`).join("; ");
  return svg("svg", { viewBox: `0 0 ${WIDTH} ${bottom + 22}`, class: "chart change", role: "img", "aria-label": `${label}, change in ${unit}: ${words}` },
    svg("text", { x: 0, y: 16, class: "change-word" }, `${label}, ${unit}`),
    svg("line", { x1: x(0), x2: x(0), y1: TOP - 8, y2: bottom, class: "axis" }),
    svg("text", { x: x(0), y: bottom + 16, "text-anchor": "middle", class: "label-soft" }, "0"),
    ...marks.flatMap((at) => [svg("line", { x1: x(at), x2: x(at), y1: TOP - 8, y2: bottom, class: "grid" }), svg("text", { x: x(at), y: bottom + 16, "text-anchor": "middle", class: "label-soft" }, `${at > 0 ? "+" : "−"}${Number(Math.abs(at).toPrecision(2))}`)]),
    ...found.flatMap((one, i) => row(one, names[i], x, left, TOP + i * ROW + ROW / 2)));
}

function row(one, name, x, left, y) {
  const most = Math.floor((left - 8) / SIGN);
  const word = svg("text", { x: 0, y: y + 5, class: "label-soft" }, name.length > most ? `${name.slice(0, most - 1)}…` : name);
  if (!one) return [word, svg("text", { x: left, y: y + 5, class: "label-soft" }, "no estimate")];
  return [word, svg("line", { x1: x(one.by - one.u95), x2: x(one.by + one.u95), y1: y, y2: y, class: "change-line" }), svg("circle", { cx: x(one.by), cy: y, r: 5, class: "change-dot" })];
}

/** What is changed and shown: [part, label, unit]. */
export const CHANGES = [["softening", "Softening", "K"], ["working", "Working point", "K"], ["range", "Working range", "K"], ["alpha", "Expansion", "× 10⁻⁷/K"]];

/** One panel for each of CHANGES, and one sentence for those that have no estimate at all; members: [{name, change}]. */
export function changePictures(members) {
  const isKnown = ([part]) => members.some(({ change }) => change[part]);
  const panels = CHANGES.filter(isKnown).map(([part, label, unit]) => panel({ label, unit, found: members.map(({ change }) => change[part]), names: members.map(({ name }) => name) }));
  const unknown = CHANGES.filter((one) => !isKnown(one)).map(([, label]) => label.toLowerCase());
  return unknown.length ? [...panels, make("p", { textContent: `No estimate, so no change can be told, of: ${unknown.join(", ")}.` })] : panels;
}
