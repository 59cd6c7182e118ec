// Small parts that the pictures of glasses share: elements, the one temperature scale, ticks.
const NS = "http://www.w3.org/2000/svg";
export const SCALE_C = [450, 1150];

export function svg(tag, attributes = {}, ...children) {
  const node = document.createElementNS(NS, tag);
  for (const [name, value] of Object.entries(attributes)) node.setAttribute(name, value);
  node.append(...children);
  return node;
}

export function linear([from, to], [low, high]) {
  return (value) => low + ((value - from) / (to - from)) * (high - low);
}

/** The common scale, made wider in steps of 50 only where a glass needs it. */
export function scaleFor(temperatures) {
  const low = Math.min(SCALE_C[0], Math.floor(Math.min(...temperatures) / 50) * 50);
  const high = Math.max(SCALE_C[1], Math.ceil(Math.max(...temperatures) / 50) * 50);
  return [low, high];
}

/** The smallest of 1, 2 and 5 times a power of ten that is not below it. */
export function roundStep(least) {
  const power = 10 ** Math.floor(Math.log10(least));
  return [1, 2, 5, 10].map((n) => n * power).find((one) => one >= least);
}

export function ticks([from, to], step) {
  const found = [];
  for (let value = Math.ceil(from / step) * step; value <= to; value += step) found.push(value);
  return found;
}
