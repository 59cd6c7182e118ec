// The form of a find's facts.
import { at, complain, oneLine } from "./parts.js";

const LINES = ["site", "context", "number", "keeper", "note"];

/** Put a find's facts into the form. */
export function fillFacts(form, facts) {
  for (const name of [...LINES, "loan_from", "due"]) form.elements[name].value = facts?.[name] ?? "";
}

/** The facts as typed, or null when something is wrong; the form then says what. */
export function factsNow(form) {
  const facts = Object.fromEntries(LINES.map((name) => [name, oneLine(form.elements[name].value)]));
  for (const name of ["loan_from", "due"]) facts[name] = form.elements[name].value;
  const isBackwards = facts.loan_from && facts.due && facts.due < facts.loan_from;
  const wrong = [
    complain("number-error", facts.number ? "" : "Give the find its number, as it stands on the bag."),
    complain("due-error", isBackwards ? "It would be due back before the loan began." : ""),
  ];
  if (!wrong.includes(true)) return facts;
  form.querySelector(".field-error:not([hidden])").scrollIntoView({ block: "center" });
  return null;
}

const busy = new Set();

/** Record something; a refusal of the store is said at `place`. Resolves with whether it was stored. A second tap meanwhile does nothing. */
export async function kept(place, work) {
  if (busy.has(place)) return false;
  busy.add(place);
  try {
    await work();
    return !complain(place, "");
  } catch (error) {
    complain(place, error.message);
    at(place).scrollIntoView({ block: "center" });
    if (error.name !== "NotKept" && error.name !== "Behind") throw error;
    return false;
  } finally {
    busy.delete(place);
  }
}
