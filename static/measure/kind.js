// What this page's test asks for: the desk's own list (server/measure/data/tests.json), as it stands in the page.
export { at, make, numberFrom, oneLine } from "../web/parts.js";
export { LETTERS } from "./tests.js";

export const kind = JSON.parse(document.getElementById("kind").textContent);

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
