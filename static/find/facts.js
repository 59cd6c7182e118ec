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

/** Note in a form which statements its own will come after: those that the person saw when it was opened, not what arrives meanwhile. */
export function fillOver(form, numbers) {
  form.elements.over.value = JSON.stringify(numbers);
}

/** {over}, or nothing where the form was left open by an older Isokom. */
export function overNow(form) {
  const kept = form.elements.over.value;
  return kept ? { over: JSON.parse(kept) } : {};
}

/** Show, where it is so, that nobody has decided between two statements. */
export function drawUnsettled({ id, unsettled }) {
  const words = unsettled.includes("consent") ? "Two answers of the keeper were recorded on machines that had not heard of each other. Until one is chosen, only what both allow counts." : "This was changed on two machines that had not heard of each other. The later change is shown.";
  at("unsettled").hidden = !unsettled.length;
  at("unsettled-words").textContent = words;
  at("settle").href = `/differences#${id}`;
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
