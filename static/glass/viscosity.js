// The curve picture: log10 viscosity against temperature, the named points, the working range, the ± band,
// and a readout that follows a finger or the arrow keys. Up to six glasses, told apart by letter, dash and colour.
import { linear, scaleFor, svg, ticks } from "./svg.js";
import { saveButtons } from "../web/save.js";
import { isokom, logEta } from "./estimate.js";

const LOG = [14, 3];
const HEIGHT = 380;
const EDGE = { top: 34, right: 50, bottom: 46, left: 50 };
const DASHES = ["", "9 5", "2 5", "14 4 2 4", "6 3 2 3 2 3", "1 4"];
export const LETTERS = "ABCDEF";
const POINTS = [["annealing", 13], ["softening", 7.6], ["working", 4]];

function power(exponent) {
  const digits = String(exponent).replace("-", "⁻").replace(/\d/g, (d) => "⁰¹²³⁴⁵⁶⁷⁸⁹"[d]);
  return `10${digits}`;
}

/** ± in K at a viscosity: between the named points along a straight line, constant beyond them. */
export function uAt(curve, log) {
  const { working, softening, annealing } = curve.u;
  if (log <= 4) return working;
  if (log >= 13) return annealing;
  return log <= 7.6 ? working + ((softening - working) * (log - 4)) / 3.6 : softening + ((annealing - softening) * (log - 7.6)) / 5.4;
}

class ViscosityChart extends HTMLElement {
  connectedCallback() {
    const data = this.querySelector("script[type='application/json']");
    if (data) this.curves = JSON.parse(data.textContent);
    this.watcher = new ResizeObserver(() => this.draw());
    this.watcher.observe(this);
  }

  disconnectedCallback() {
    this.watcher.disconnect();
  }

  show(curves) {
    this.curves = curves;
    this.drawn = null;
    this.draw();
  }

  draw() {
    if (!this.curves?.length || !this.clientWidth || this.drawn === this.clientWidth) return;
    this.drawn = this.clientWidth;
    const span = scaleFor(this.curves.flatMap((c) => [c.points.annealing - 20, c.points.working + c.u.working]));
    this.plot = new Plot(this.clientWidth, span, this.curves);
    const slider = readingSlider(span, this.reading ?? Math.round(this.curves[0].points.softening));
    const words = document.createElement("p");
    words.className = "reading";
    words.setAttribute("role", "status");
    const read = (temperature) => {
      this.reading = temperature;
      slider.value = temperature;
      this.plot.read(temperature);
      words.replaceChildren(...readingWords(this.curves, temperature));
    };
    slider.addEventListener("input", () => read(Number(slider.value)));
    this.plot.onPoint((temperature) => read(Math.round(temperature)));
    const label = document.createElement("label");
    label.className = "small";
    label.append("Read the curve: tap it, or move this", slider);
    this.replaceChildren(this.plot.node, words, label, saveButtons(() => this.plot.node, "isokom-viscosity"));
    read(Number(slider.value));
  }
}

function readingSlider([min, max], value) {
  const slider = document.createElement("input");
  Object.assign(slider, { type: "range", min, max, step: 1, value });
  return slider;
}

function readingWords(curves, temperature) {
  return curves.map((curve, i) => {
    const line = document.createElement("span");
    line.className = "reading-line";
    line.append(curves.length > 1 ? `${LETTERS[i]}: ` : "", ...reading(curve, temperature));
    return line;
  });
}

function reading(curve, temperature) {
  const log = temperature > curve.vft.t0_c ? logEta(curve.vft, temperature) : Infinity;
  if (log > 15) return [`At ${temperature} °C it is rigid.`];
  const band = (curve.vft.b / (temperature - curve.vft.t0_c) ** 2) * uAt(curve, log);
  return [`At ${temperature} °C: 10`, raised(log), " dPa·s (10", raised(log - 1), ` Pa·s), ± ${band.toFixed(1)} in the exponent`];
}

function raised(exponent) {
  return Object.assign(document.createElement("sup"), { textContent: exponent.toFixed(1).replace("-", "−") });
}

class Plot {
  constructor(width, span, curves) {
    this.curves = curves;
    this.span = span;
    this.x = linear(span, [EDGE.left, width - EDGE.right]);
    this.y = linear(LOG, [EDGE.top, HEIGHT - EDGE.bottom]);
    this.back = linear([EDGE.left, width - EDGE.right], span);
    this.width = width;
    this.cursor = svg("g", { class: "cursor" });
    this.node = svg("svg", { viewBox: `0 0 ${width} ${HEIGHT}`, class: "chart", role: "img" }, svg("title", {}, this.title()));
    this.node.append(...this.frame());
    if (curves.length === 1) this.node.append(this.band(curves[0]), ...this.range(curves[0]));
    this.node.append(this.cursor);
    curves.forEach((curve, i) => this.node.append(this.line(curve, i)));
    curves.forEach((curve, i) => this.node.append(...(curves.length === 1 ? this.named(curve) : this.letter(curve, i))));
  }

  title() {
    return this.curves.map((c) => `${c.name}: softening ${Math.round(c.points.softening)}, working ${Math.round(c.points.working)} °C`).join("; ");
  }

  frame() {
    const bottom = HEIGHT - EDGE.bottom;
    const right = this.width - EDGE.right;
    const parts = [
      svg("text", { x: 4, y: 16, class: "label-soft" }, "viscosity, dPa·s"),
      svg("text", { x: this.width - 4, y: 16, "text-anchor": "end", class: "label-soft" }, "Pa·s"),
      svg("text", { x: (EDGE.left + right) / 2, y: HEIGHT - 6, "text-anchor": "middle", class: "label-soft" }, "temperature, °C"),
      svg("line", { x1: EDGE.left, x2: right, y1: bottom, y2: bottom, class: "axis" }),
    ];
    for (const log of [4, 6, 8, 10, 12, 14]) {
      parts.push(svg("line", { x1: EDGE.left, x2: right, y1: this.y(log), y2: this.y(log), class: "grid" }),
        svg("text", { x: EDGE.left - 8, y: this.y(log) + 5, "text-anchor": "end" }, power(log)),
        svg("text", { x: right + 8, y: this.y(log) + 5 }, power(log - 1)));
    }
    for (const t of ticks(this.span, this.width > 520 ? 100 : 200)) {
      parts.push(svg("line", { x1: this.x(t), x2: this.x(t), y1: bottom, y2: bottom + 6, class: "axis" }),
        svg("text", { x: this.x(t), y: bottom + 22, "text-anchor": "middle" }, String(t)));
    }
    return parts;
  }

  logs() {
    return Array.from({ length: 111 }, (_, i) => LOG[1] + i / 10);
  }

  inside(temperature) {
    return Math.min(Math.max(temperature, this.span[0]), this.span[1]);
  }

  path(curve, shift = () => 0, logs = this.logs()) {
    const points = logs.map((log) => [isokom(curve.vft, log) + shift(log), log]).filter(([t]) => t >= this.span[0] && t <= this.span[1]);
    return points.map(([t, log]) => `${this.x(t).toFixed(1)} ${this.y(log).toFixed(1)}`).join("L");
  }

  line(curve, i) {
    return svg("path", { d: `M${this.path(curve)}`, class: `curve series-${i + 1}`, "stroke-dasharray": DASHES[i] });
  }

  band(curve) {
    const logs = this.logs();
    const side = (sign, order) => order.map((log) => `${this.x(this.inside(isokom(curve.vft, log) + sign * uAt(curve, log))).toFixed(1)} ${this.y(log).toFixed(1)}`).join("L");
    return svg("path", { d: `M${side(-1, logs)}L${side(1, [...logs].reverse())}Z`, class: "band" });
  }

  range(curve) {
    const [from, to] = [curve.points.softening, curve.points.working].map((t) => this.x(this.inside(t)));
    const bottom = HEIGHT - EDGE.bottom;
    const label = svg("text", { x: (from + to) / 2, y: this.y(10.6), "text-anchor": "middle", class: "range-label" }, "working range");
    const edges = [from, to].map((x) => svg("line", { x1: x, x2: x, y1: EDGE.top, y2: bottom, class: "range-edge" })); // a wash alone fades behind a filter
    return [svg("rect", { x: from, width: Math.max(to - from, 0), y: EDGE.top, height: bottom - EDGE.top, class: "range" }), ...edges, label];
  }

  named(curve) {
    return POINTS.flatMap(([name, log]) => {
      const [cx, cy] = [this.x(this.inside(curve.points[name])), this.y(log)];
      const left = cx > this.width - EDGE.right - 120;
      const text = `${name} ${Math.round(curve.points[name])}`;
      return [svg("circle", { cx, cy, r: 5, class: "point" }),
        svg("text", { x: cx + (left ? -6 : 11), y: cy + (left ? 24 : -7), "text-anchor": left ? "end" : "start", class: "halo" }, text)];
    });
  }

  letter(curve, i) {
    const log = 5.2 + i * 0.8; // staggered along the curves, so that letters do not meet
    const [cx, cy] = [this.x(this.inside(isokom(curve.vft, log))), this.y(log)];
    return [svg("circle", { cx, cy, r: 11, class: `tag series-${i + 1}` }), svg("text", { x: cx, y: cy + 5, "text-anchor": "middle", class: "tag-text" }, LETTERS[i])];
  }

  read(temperature) {
    const x = this.x(temperature);
    const parts = [svg("line", { x1: x, x2: x, y1: EDGE.top, y2: HEIGHT - EDGE.bottom, class: "readout-line" })];
    this.curves.forEach((curve, i) => {
      const log = temperature > curve.vft.t0_c ? logEta(curve.vft, temperature) : Infinity;
      if (log <= LOG[0] && log >= LOG[1]) parts.push(svg("circle", { cx: x, cy: this.y(log), r: 6, class: `reading-dot series-${i + 1}` }));
    });
    this.cursor.replaceChildren(...parts);
  }

  onPoint(report) {
    const follow = (event) => {
      const box = this.node.getBoundingClientRect();
      report(this.inside(this.back(((event.clientX - box.left) / box.width) * this.width)));
    };
    this.node.addEventListener("pointerdown", (event) => {
      follow(event);
      this.node.setPointerCapture(event.pointerId);
    });
    this.node.addEventListener("pointermove", (event) => event.buttons && follow(event));
  }
}

customElements.define("viscosity-chart", ViscosityChart);
