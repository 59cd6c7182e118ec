// Small drawings of what a reading means. Shapes and hatching carry it, never a colour alone.
import { svg } from "../glass/svg.js";

function picture(width, height, ...children) {
  return svg("svg", { viewBox: `0 0 ${width} ${height}`, class: "drawing", "aria-hidden": "true" }, ...children);
}

const shelf = () => svg("path", { class: "shelf", d: "M4 58H92" });
const SHAPES = {
  sharp: "M28 58V26H68V58Z",
  "edges soft": "M28 58V31Q28 26 33 26H63Q68 26 68 31V58Z",
  rounded: "M28 58Q25 30 40 27H56Q71 30 68 58Z",
  dome: "M20 58Q18 40 34 35Q48 31 62 35Q78 40 76 58Z",
  puddle: "M8 58Q10 49 24 48H72Q86 49 88 58Z",
};

/** A chip on its shelf, from the side. */
export function chipShape(word) {
  return picture(96, 64, svg("path", { class: "glass", d: SHAPES[word] }), shelf());
}

export function skin(word) {
  const body = svg("path", { class: "glass", d: SHAPES.dome });
  const mark = word === "bright" ? svg("path", { class: "shine", d: "M32 50Q32 42 42 40" }) : svg("path", { class: "frost", d: "M30 48h2M38 44h2M46 42h2M54 44h2M62 48h2M36 51h2M45 50h2M54 51h2" });
  return picture(96, 64, body, mark, shelf());
}

const HALOS = { none: 0, faint: 1, grey: 2, white: 3, coloured: 4 };

/** Dark field between crossed polarisers with the light at a joint: a wider band with more lines for more of it. */
export function halo(word) {
  const much = HALOS[word];
  const band = [svg("rect", { class: "dark", x: 4, y: 4, width: 88, height: 56, rx: 4 }), svg("path", { class: "joint-line", d: "M4 32H92" })];
  if (much) band.push(svg("rect", { class: `light light-${much}`, x: 4, y: 32 - 4 * much, width: 88, height: 8 * much }));
  if (word === "coloured") band.push(svg("path", { class: "fringes", d: "M4 22H92M4 27H92M4 37H92M4 42H92" }));
  return picture(96, 64, ...band);
}

export function crack(word) {
  const parts = [svg("rect", { class: "glass", x: 8, y: 30, width: 80, height: 22 }), svg("rect", { class: "glass other", x: 8, y: 14, width: 80, height: 16 })];
  if (word === "yes") parts.push(svg("path", { class: "crack", d: "M40 14L46 24L38 32L48 42L42 52" }));
  return picture(96, 64, ...parts);
}

const arrows = (y) => svg("path", { class: "pull-arrow", d: `M36 ${y}H14m7 -5l-7 5l7 5M60 ${y}H82m-7 -5l7 5l-7 5` });

/** Two layers; arrows stand on the side that is pulled. */
export function pulls(word) {
  const parts = [svg("rect", { class: "glass other", x: 4, y: 8, width: 88, height: 22 }), svg("rect", { class: "glass", x: 4, y: 30, width: 88, height: 28 })];
  if (word !== "unclear") parts.push(arrows(word === "strip" ? 19 : 44));
  else parts.push(svg("text", { x: 48, y: 51, "text-anchor": "middle" }, "?"));
  return picture(96, 64, ...parts);
}

/** A thread of A (plain) and B (hatched), bowed so that one lies inside the bow. */
export function inside(word) {
  const curve = { A: [46, 46], B: [46, 46], straight: [32, 32] }[word];
  const path = (shift) => `M8 ${18 + shift + (word === "straight" ? 14 : 0)}Q48 ${curve[0] + shift + (word === "straight" ? 0 : 14)} 88 ${18 + shift + (word === "straight" ? 14 : 0)}`;
  const upper = word === "B" ? "B" : "A";
  const parts = [
    svg("path", { class: `strand strand-${upper}`, d: path(-5) }),
    svg("path", { class: `strand strand-${upper === "A" ? "B" : "A"}`, d: path(5) }),
    svg("text", { x: 48, y: word === "straight" ? 20 : 24, "text-anchor": "middle" }, upper),
    svg("text", { x: 48, y: word === "straight" ? 56 : 62, "text-anchor": "middle" }, upper === "A" ? "B" : "A"),
  ];
  return picture(96, 68, ...parts);
}

/** Where to read a thread: chord, bow, thickness; the one that is asked for is drawn strong. */
export function threadToRead(quantity) {
  const strong = (names) => (names.includes(quantity) ? "measure strong" : "measure");
  const ticks = Array.from({ length: 31 }, (_x, i) => `M${30 + i * 10} 122v${i % 5 ? 7 : 13}`).join("");
  const bow = ["bow_mm", "bow_turned_mm", "inside"];
  return svg("svg", { viewBox: "0 0 360 150", class: "drawing thread-read", role: "img", "aria-label": "A bowed thread over a ruler: length is the straight line from end to end, bow the distance from the middle of that line to the thread, thickness is taken in the middle." },
    svg("path", { class: "ruler", d: "M20 122H340V146H20Z" }), svg("path", { class: "ruler-ticks", d: ticks }),
    svg("path", { class: "strand strand-A thick", d: "M30 102Q180 -40 330 102" }),
    svg("path", { class: strong(["length_mm"]), d: "M30 102H330M30 96v12M330 96v12" }), svg("text", { x: 92, y: 96, "text-anchor": "middle" }, "length"),
    svg("path", { class: strong(bow), d: "M180 100V34M175 92l5 8l5 -8M175 42l5 -8l5 8" }), svg("text", { x: 188, y: 76 }, "bow"),
    svg("path", { class: strong(["thickness_mm", "share_a"]), d: "M214 22v-12M214 46v12M209 16l5 7l5 -7M209 52l5 -7l5 7" }), svg("text", { x: 226, y: 20 }, "thickness"));
}

/** A chip of a rod, as thick as it is. `mm` null: not read yet, drawn dashed. */
export function rodChip(mm, most) {
  const height = mm === null ? 34 : 10 + 40 * Math.min(1, mm / most);
  return svg("svg", { viewBox: "0 0 56 56", class: "drawing rod-drawing", "aria-hidden": "true" },
    svg("rect", { class: mm === null ? "glass unread" : "glass", x: 1, y: 28 - height / 2, width: 54, height }));
}
