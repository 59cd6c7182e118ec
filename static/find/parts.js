// Small pieces of the pages of finds: elements, figures as typed, the bar of what is left, words for consent and loan.
import { make as element, numberFrom as plainNumber } from "../web/parts.js";
import { grams, TEST_WORDS } from "./sentences.js";

export { at, complain, oneLine } from "../web/parts.js";

const SVG = "http://www.w3.org/2000/svg";
const BAR = { width: 240, height: 14 };
export const CONSENT_WORDS = { asked: "asked, no answer yet", given: "agreed", refused: "refused" };

export const mass = (mass_g) => make("span", "", grams(mass_g), make("span", "unit", "\u202fg"));

export function make(tag, className, ...children) {
  return element(tag, className ? { className } : {}, ...children);
}

export function linkTo(href, className, ...children) {
  return Object.assign(make("a", className, ...children), { href });
}

/** A mass as people write it; null when it is none, undefined when nothing was typed. */
export function numberFrom(typed) {
  if (!typed.trim()) return undefined;
  const number = plainNumber(typed);
  return number === null || number < 0 ? null : number;
}

/** [[word, value or node], …] as a list of facts; those without a value are left out. */
export function facts(list, pairs) {
  const said = pairs.filter(([, value]) => value);
  list.replaceChildren(...said.flatMap(([word, value]) => [make("dt", "", word), make("dd", "", value)]));
}

/** What is left of a start, as a bar with a hatched rest; the figures stand beside it as text. */
export function massBar(left_g, start_g) {
  const svg = document.createElementNS(SVG, "svg");
  svg.setAttribute("viewBox", `0 0 ${BAR.width} ${BAR.height}`);
  svg.setAttribute("class", "mass-bar");
  svg.setAttribute("aria-hidden", "true");
  const share = start_g > 0 ? Math.min(1, Math.max(0, (left_g ?? 0) / start_g)) : 0;
  for (const [name, width] of [["whole", BAR.width - 2], ["rest", (BAR.width - 2) * share]]) {
    const box = document.createElementNS(SVG, "rect");
    for (const [key, value] of Object.entries({ x: 1, y: 1, width, height: BAR.height - 2, rx: 3, class: name })) box.setAttribute(key, value);
    svg.append(box);
  }
  return svg;
}

/** "2.5 g left of 4 g", or that nothing was weighed. */
export function leftWords({ left_g, start_g }) {
  return left_g === null ? "not weighed yet" : `${grams(left_g)} g left of ${grams(start_g)} g`;
}

export function consentWord(find) {
  return find.consent ? CONSENT_WORDS[find.consent.state] : "keeper not asked";
}

/** True after the day on which it was due, unless all of it has gone back or is used up. */
export function isOverdue(find, today) {
  return Boolean(find.facts.due) && find.facts.due < today && find.left_g !== 0;
}

export function dueWords(find, today) {
  if (!find.facts.due) return "";
  return isOverdue(find, today) ? `was due back ${find.facts.due}` : `due back ${find.facts.due}`;
}

/** "flame test, fuse test". */
export function testWords(tests) {
  return tests.map((test) => TEST_WORDS[test]).join(", ");
}

/** One sentence for one statement of the keeper. */
export function consentSentence(consent) {
  if (!consent) return "The keeper has not been asked about tests that use the find up.";
  const who = consent.by || "The keeper";
  const day = consent.on ? ` on ${consent.on}` : "";
  if (consent.state === "asked") return `${who} was asked${day}. There is no answer yet.`;
  if (consent.state === "refused") return `${who} refused${day}. Nothing of this find is to be used up.`;
  return consent.tests.length ? `${who} agreed${day} to: ${testWords(consent.tests)}.` : "The answers of the keeper name no test in common.";
}

/** A statement with its limits and remarks. */
export function consentWhole(consent) {
  const limits = consent ? limitWords(consent) : "";
  return [consentSentence(consent), limits && `Limits: ${limits}.`, consent?.note].filter(Boolean).join(" ");
}

/** The limits of a statement in words; "" where it names none. */
export function limitWords({ limit_g, limit_piece_g }) {
  const said = [];
  if (limit_g !== null) said.push(`at most ${grams(limit_g)} g of the whole find`);
  if (limit_piece_g !== null) said.push(`at most ${grams(limit_piece_g)} g of any piece`);
  return said.join(", ");
}
