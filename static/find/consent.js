// What the keeper was asked and said: the form of one statement, and its one clear next step.
import { recordAfter } from "./after.js";
import { folded } from "./draft.js";
import { fillOver, kept, overNow } from "./facts.js";
import { today } from "./finds.js";
import { at, complain, consentSentence, consentWhole, facts, limitWords, make, numberFrom, oneLine, testWords } from "./parts.js";
import { grams } from "./sentences.js";

const MOST_G = 100_000;
const NEXT = { none: "Ask the keeper", asked: "Record the answer", given: "Record a new answer", refused: "Record a new answer" };
const form = at("consent-form");
const stateNow = () => form.elements.state.value;

function showWords() {
  const state = stateNow();
  at("by-word").textContent = { asked: "Who was asked", given: "Who agreed", refused: "Who refused" }[state];
  at("tests-word").textContent = state === "given" ? "Tests that are allowed" : "Tests that are asked for";
  at("limits-part").hidden = state === "refused";
}

function put({ consent, consent_latest, facts: { keeper } }) {
  fillOver(form, consent_latest);
  form.elements.state.value = consent ? "given" : "asked";
  form.elements.by.value = consent?.by ?? keeper;
  form.elements.on.value = today();
  for (const name of ["limit_g", "limit_piece_g"]) form.elements[name].value = consent?.[name] ?? "";
  for (const box of form.elements.tests) box.checked = Boolean(consent?.tests.includes(box.value));
  form.elements.note.value = "";
}

function limitNow(name) {
  const value = numberFrom(form.elements[name].value);
  return value === undefined ? null : value;
}

function isLimitWrong(name) {
  const value = numberFrom(form.elements[name].value);
  return value !== undefined && (value === null || value <= 0 || value > MOST_G);
}

function consentNow() {
  const state = stateNow();
  const isRefused = state === "refused";
  const tests = isRefused ? [] : [...form.elements.tests].filter((box) => box.checked).map((box) => box.value);
  const [by, on] = [oneLine(form.elements.by.value), form.elements.on.value];
  const wrong = [
    complain("by-error", state === "given" && !(by && on) ? "Say who agreed, and on which day." : ""),
    complain("tests-error", state === "given" && !tests.length ? "Tick the tests that are allowed." : ""),
    complain("limit-error", !isRefused && ["limit_g", "limit_piece_g"].some(isLimitWrong) ? "Give a limit in grams, for example 2,5, or leave it blank." : ""),
  ];
  if (wrong.includes(true)) {
    form.querySelector(".field-error:not([hidden])").scrollIntoView({ block: "center" });
    return null;
  }
  const limits = isRefused ? { limit_g: null, limit_piece_g: null } : { limit_g: limitNow("limit_g"), limit_piece_g: limitNow("limit_piece_g") };
  return { state, by, on, ...limits, tests, note: oneLine(form.elements.note.value) };
}

/** The latest statement, its limits, and all earlier ones. */
export function drawConsent({ consent, consents, gone_g }) {
  at("consent-said").textContent = consentSentence(consent);
  at("consent-facts").hidden = !consent || consent.state === "refused";
  if (consent) {
    facts(at("consent-facts"), [
      [consent.state === "asked" ? "Asked for" : "", consent.state === "asked" ? testWords(consent.tests) : ""],
      ["Limits", limitWords(consent) || (consent.state === "given" ? "none named" : "")],
      ["Used or lost so far", consent.state === "given" ? `${grams(gone_g)} g` : ""],
      ["Remarks", consent.note],
    ]);
  }
  at("consent-act").textContent = NEXT[consent?.state ?? "none"];
  at("consent-act").classList.toggle("quiet", consent?.state === "given" || consent?.state === "refused");
  at("history").hidden = consents.length < 2;
  at("history-list").replaceChildren(...consents.map((one) => make("li", "", consentWhole(one))));
}

/** Connect the form; `now()` gives the find as it stands. */
export function startConsent(findId, now) {
  const fold = folded(form, at("consent-act"), `${findId}:consent`, { fill: () => put(now()), onFill: showWords });
  for (const radio of form.elements.state) radio.addEventListener("change", showWords);
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    const body = consentNow();
    if (body && (await kept("consent-error", () => recordAfter("find.consent", findId, { ...body, ...overNow(form) })))) fold.close();
  });
  showWords();
}
