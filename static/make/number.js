// Numbers as they are typed into a form of making. Pure.
import { numberFrom } from "../web/parts.js";
import { CannotMake } from "./addition.js";

const EITHER = /^[1-9]\d{0,2}(,\d{3})+$/; // 1,250: a thousand to some, one and a quarter to others

/** The number, or null where it is none. Throws CannotMake where a comma may mean either. */
export function numberOf(typed) {
  const text = typed.trim();
  if (EITHER.test(text)) throw new CannotMake(`“${text.slice(0, 20)}” can be read in two ways. Write ${text.replaceAll(",", "")} or ${text.replace(",", ".").replaceAll(",", "")}.`);
  return numberFrom(text);
}
