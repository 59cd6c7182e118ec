// A glass as a bar on the common temperature scale: thin from strain to annealing, middle to softening,
// full height from softening to working. Faded ends show the ±. Attributes in °C and K; see server/glass/view.py heat().
import { SCALE_C, linear, scaleFor, svg, ticks } from "./svg.js";

const HEIGHT = 28;

function width(element) {
  return Math.max(element.clientWidth, 200);
}

class HeatBar extends HTMLElement {
  connectedCallback() {
    this.watcher = new ResizeObserver(() => this.draw());
    this.watcher.observe(this);
  }

  disconnectedCallback() {
    this.watcher.disconnect();
  }

  value(name) {
    return Number(this.getAttribute(name));
  }

  draw() {
    const [strain, annealing, softening, working] = ["strain", "annealing", "softening", "working"].map((n) => this.value(n));
    if (this.drawn === this.clientWidth) return;
    this.drawn = this.clientWidth;
    const scale = this.getAttribute("scale")?.split(" ").map(Number) ?? SCALE_C;
    const x = linear(scale, [2, width(this) - 2]);
    const clip = (value) => Math.min(Math.max(x(value), 0), width(this));
    const part = (from, to, height, kind) => svg("rect", {
      x: clip(from), width: Math.max(clip(to) - clip(from), 0), y: (HEIGHT - height) / 2, height, class: kind,
    });
    const soft = this.value("soft-u");
    const work = this.value("work-u");
    const picture = svg("svg", { viewBox: `0 0 ${width(this)} ${HEIGHT}`, role: "img", class: "heat" },
      svg("title", {}, `Softens ${Math.round(softening)} °C, works to ${Math.round(working)} °C`),
      svg("line", { x1: 0, x2: width(this), y1: HEIGHT / 2, y2: HEIGHT / 2, class: "heat-rod" }),
      part(strain, annealing, 4, "heat-part"),
      part(annealing, softening, 11, "heat-part"),
      ...rangeParts(softening, soft, working, work).map(([from, to, kind]) => part(from, to, HEIGHT - 2, kind)),
      ...[softening, working].map((value) => svg("line", { x1: clip(value), x2: clip(value), y1: 1, y2: HEIGHT - 1, class: "heat-edge" })));
    if (working + work > scale[1]) picture.append(beyond(width(this)));
    this.replaceChildren(picture);
  }
}

// Full where the range is sure, faded where the ± of an end reaches; all faded where the two meet.
function rangeParts(softening, soft, working, work) {
  if (softening + soft >= working - work) return [[softening - soft, working + work, "heat-end"]];
  return [[softening - soft, softening + soft, "heat-end"], [softening + soft, working - work, "heat-part"], [working - work, working + work, "heat-end"]];
}

function beyond(right) {
  return svg("path", { d: `M${right - 9} 7l7 7-7 7`, class: "heat-beyond" });
}

class HeatScale extends HTMLElement {
  connectedCallback() {
    this.watcher = new ResizeObserver(() => this.draw());
    this.watcher.observe(this);
  }

  disconnectedCallback() {
    this.watcher.disconnect();
  }

  draw() {
    if (this.drawn === this.clientWidth) return;
    this.drawn = this.clientWidth;
    const scale = this.getAttribute("scale")?.split(" ").map(Number) ?? SCALE_C;
    const x = linear(scale, [2, width(this) - 2]);
    const picture = svg("svg", { viewBox: `0 0 ${width(this)} 26`, class: "chart", "aria-hidden": "true" });
    const all = ticks(scale, width(this) > 520 ? 100 : 200);
    for (const value of all) {
      const anchor = x(value) < 24 ? "start" : x(value) > width(this) - 30 ? "end" : "middle";
      picture.append(svg("line", { x1: x(value), x2: x(value), y1: 20, y2: 26, class: "axis" }),
        svg("text", { x: x(value), y: 14, "text-anchor": anchor, class: "label-soft" }, value === all[0] ? `${value} °C` : value));
    }
    this.replaceChildren(picture);
  }
}

customElements.define("heat-bar", HeatBar);
customElements.define("heat-scale", HeatScale);

/** A heat-bar element for a curve summary (server/glass/view.py curve()). */
export function heatBar(curve, scale) {
  const bar = document.createElement("heat-bar");
  for (const [name, value] of Object.entries(curve.points)) bar.setAttribute(name, value);
  bar.setAttribute("soft-u", curve.u.softening);
  bar.setAttribute("work-u", curve.u.working);
  if (scale) bar.setAttribute("scale", scale.join(" "));
  return bar;
}

export { scaleFor };
