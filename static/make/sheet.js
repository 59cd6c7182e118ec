// A glass whose points stand on a data sheet, for the kiln: strain, annealing and softening point and expansion. Pure but for reading its fields.
import { CannotMake } from "./addition.js";
import { numberOf } from "./number.js";

const [ANNEALING_LOG, SOFTENING_LOG] = [13, 7.6]; // of dPa·s, by definition (server/physics/data/rules.json)
const [COLDEST_C, HOTTEST_C, LEAST_ALPHA, MOST_ALPHA] = [200, 1200, 20, 300];
const FIELDS = ["sheet-name", "strain", "annealing", "softening", "alpha"];

/** {a, b, t0_c} of log10 η = a + b/(T − t0) through annealing and softening point in °C; a is usual of such curves (anneal.json). The strain point of a data sheet lies on no such curve. */
export function curveThrough({ annealing, softening }, a) {
  const [n, s] = [ANNEALING_LOG - a, SOFTENING_LOG - a];
  const t0_c = (n * annealing - s * softening) / (n - s);
  return { a, b: n * (annealing - t0_c), t0_c };
}

function figure(part, name, words, least, most) {
  const value = numberOf(part.querySelector(`[data-part=${name}]`).value);
  if (value === null || value < least || value > most) throw new CannotMake(words);
  return value;
}

/** Empty its fields: a glass of the list was chosen. */
export function dropSheet(part) {
  for (const name of FIELDS) part.querySelector(`[data-part=${name}]`).value = "";
}

/** Whether a field belongs to a data sheet. */
export const isOfSheet = (field) => FIELDS.includes(field.dataset.part);

/** A glass as the list has them, from the fields of a part; null where none of them is filled. a: of its curve. */
export function sheetGlass(part, a) {
  const typed = (name) => part.querySelector(`[data-part=${name}]`).value.trim();
  if (!FIELDS.some(typed)) return null;
  const points = Object.fromEntries(["strain", "annealing", "softening"].map((name) => [name, figure(part, name, `Give the ${name} point in °C, as the data sheet has it.`, COLDEST_C, HOTTEST_C)]));
  if (!(points.strain < points.annealing && points.annealing < points.softening)) throw new CannotMake("The strain point lies below the annealing point, and that below the softening point.");
  const alpha = typed("alpha") ? figure(part, "alpha", "Give the expansion in 10⁻⁷/K: about 33 for borosilicate, 95 for soda-lime. 9.5 × 10⁻⁶ is 95.", LEAST_ALPHA, MOST_ALPHA) : null;
  return { key: "", name: typed("sheet-name") || "Glass of a data sheet", alpha: alpha === null ? null : [alpha, 0], curve: { vft: curveThrough(points, a), points, u: { annealing: 0 } } };
}
