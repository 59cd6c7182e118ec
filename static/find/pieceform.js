// The form of a piece's facts.
import { fillGlass, glassNow } from "./glasses.js";
import { complain, oneLine } from "./parts.js";

const LINES = ["label", "colour", "condition", "note"];
export const NO_FACTS = { label: "", colour: "", opacity: "", condition: "", note: "", link: "none", glass_key: null, glass_name: "" };

/** Put a piece's facts into the form. */
export function fillPiece(form, facts) {
  for (const name of [...LINES, "opacity"]) form.elements[name].value = facts[name];
  fillGlass(facts);
}

/** The facts as typed, without find and code; null when something is wrong, and the form says what. */
export function pieceNow(form) {
  const facts = Object.fromEntries(LINES.map((name) => [name, oneLine(form.elements[name].value)]));
  const glass = glassNow();
  const wrong = [
    complain("label-error", facts.label ? "" : "Give the piece a label."),
    complain("glass-error", glass ? "" : "Choose the glass, or say “None yet”."),
  ];
  if (!wrong.includes(true)) return { ...facts, opacity: form.elements.opacity.value, ...glass };
  form.querySelector(".field-error:not([hidden])").scrollIntoView({ block: "center" });
  return null;
}
