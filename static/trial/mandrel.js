// <mandrel-line stages="0|14.2|||">: a rod with a bead for each stage. Empty = to come (hollow ring), else filled with its time under it.
import { STAGES, STAGE_WORDS } from "./stages.js";

const SVG = "http://www.w3.org/2000/svg";
const LARGE = { step: 70, edge: 40, rod: 22, radius: 13, text: 57, height: 64 };
const SMALL = { step: 52, edge: 30, rod: 12, radius: 7, text: 34, height: 38 };

function draw(name, attributes, text) {
  const element = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(attributes)) element.setAttribute(key, value);
  if (text !== undefined) element.textContent = text;
  return element;
}

function bead(size, index, time, isNext) {
  const x = size.edge + index * size.step;
  const group = draw("g", { class: time ? "bead filled" : isNext ? "bead next" : "bead" });
  group.append(draw("ellipse", { cx: x, cy: size.rod, rx: size.radius, ry: size.radius * (time ? 0.9 : 1) }));
  if (time) group.append(draw("path", { class: "shine", d: `M${x - size.radius * 0.5} ${size.rod - size.radius * 0.3}q${size.radius * 0.2} ${-size.radius * 0.35} ${size.radius * 0.6} ${-size.radius * 0.3}` }));
  if (time) group.append(draw("text", { x, y: size.text, "text-anchor": "middle" }, time));
  return group;
}

function told(times) {
  return STAGES.map((stage, i) => {
    const time = times[i] ?? "";
    if (!time) return `${STAGE_WORDS[stage]}: to come`;
    return i === 0 ? `${STAGE_WORDS[stage]}: recorded` : `${STAGE_WORDS[stage]}: ${time} s`;
  }).join(", ");
}

class MandrelLine extends HTMLElement {
  static observedAttributes = ["stages"];

  connectedCallback() {
    this.render();
  }

  attributeChangedCallback() {
    if (this.isConnected) this.render();
  }

  render() {
    const times = (this.getAttribute("stages") ?? "").split("|");
    const size = this.hasAttribute("small") ? SMALL : LARGE;
    const width = size.edge * 2 + size.step * (STAGES.length - 1);
    const next = STAGES.findIndex((_stage, i) => !times[i]);
    const svg = draw("svg", { viewBox: `0 0 ${width} ${size.height}`, width, height: size.height, role: "img", "aria-label": told(times) });
    svg.append(draw("path", { class: "rod", d: `M2 ${size.rod}H${width - 2}` }));
    svg.append(draw("path", { class: "grip", d: `M2 ${size.rod}H${size.edge * 0.4}` }));
    STAGES.forEach((_stage, i) => svg.append(bead(size, i, times[i] ?? "", i === next)));
    this.replaceChildren(svg);
  }
}

customElements.define("mandrel-line", MandrelLine);
