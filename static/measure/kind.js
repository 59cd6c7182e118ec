// What this page's test asks for: the desk's own list (server/measure/data/tests.json), as it stands in the page.
export const kind = JSON.parse(document.getElementById("kind").textContent);
export const LETTERS = "ABCDEFGHIJKL";

/** A reading as one would say it, without its unit. */
export function said(quantity, value) {
  if (value === undefined || value === null) return "–";
  const about = kind.quantities[quantity];
  if (typeof value === "string") return about.words?.[value] ?? value;
  const usual = value.toFixed(about.digits);
  return Math.abs(Number(usual) - value) < 1e-9 ? usual : String(Number(value.toPrecision(6)));
}

/** The same with its unit. */
export function saidWhole(quantity, value) {
  const { unit } = kind.quantities[quantity];
  return typeof value === "number" && unit ? `${said(quantity, value)}\u202f${unit}` : said(quantity, value);
}

/** A number as people write it, with comma or point; null when it is none. */
export function numberFrom(typed) {
  const text = typed.trim().replace(",", ".").replace("−", "-");
  return /^-?\d*\.?\d+$|^-?\d+\.$/.test(text) ? Number(text) : null;
}

export const oneLine = (text) => text.replace(/[\u0000-\u001f\u007f-\u009f]+/g, " ").trim();

export const at = (id) => document.getElementById(id);

/** A new element with properties and children. */
export function make(tag, properties = {}, ...children) {
  const element = Object.assign(document.createElement(tag), properties);
  element.append(...children);
  return element;
}
