// The form of a new trial. Nothing is recorded here: the choice travels to the run page and becomes an entry with the first press.
import { newId } from "../web/outbox.js";
import { draftOf, saveDraft } from "./draft.js";
import { everyGlass, matching, quickGlasses } from "./glasses.js";
import { earlierSetups } from "./trials.js";

const MAX_CHOICES = 8;
const MASS_G = { low: 0.5, high: 5, most: 1000 };
const PREHEAT_C = { low: -50, high: 1500 };
const at = (id) => document.getElementById(id);
const asked = new URLSearchParams(location.search);
const state = { known: [], chosen: null };

const oneLine = (text) => text.replace(/[\u0000-\u001f\u007f-\u009f]+/g, " ").trim();
const isPiece = () => document.querySelector("[name=what]:checked").value === "piece";

/** A number as people write it, with comma or point; null when it is none. */
function numberIn(id) {
  const text = at(id).value.trim().replace(",", ".").replace("−", "-");
  return /^-?\d*\.?\d+$|^-?\d+\.$/.test(text) ? Number(text) : null;
}

function choose(glass) {
  state.chosen = glass;
  at("chosen").hidden = !glass;
  at("choose").hidden = Boolean(glass);
  at("chosen-name").textContent = glass?.name ?? "";
  at("glass-error").hidden = true;
}

function choice(glass, words) {
  const button = Object.assign(document.createElement("button"), { type: "button", className: "chip", textContent: words ?? glass.name });
  button.addEventListener("click", () => choose(glass));
  return button;
}

function showChoices() {
  const typed = oneLine(at("search").value);
  const found = typed ? matching(state.known, typed) : [];
  const buttons = found.slice(0, MAX_CHOICES).map((glass) => choice(glass, glass.family ? `${glass.name} · ${glass.family}` : glass.name));
  const isKnown = found.some((glass) => glass.name.toLowerCase() === typed.toLowerCase());
  if (typed && !isKnown) buttons.push(choice({ key: null, name: typed }, `Not listed: call it “${typed}”`));
  at("choices").replaceChildren(...buttons.map((button) => Object.assign(document.createElement("li"), {}).appendChild(button).parentElement));
  at("search-count").textContent = typed ? `${found.length} found${found.length > MAX_CHOICES ? `, ${MAX_CHOICES} shown` : ""}` : "";
}

function showWhat() {
  at("piece-part").hidden = !isPiece();
  at("chosen-word").textContent = isPiece() ? "Taken for" : "Glass";
}

// A glass chosen for one kind of trial is never carried over to the other unseen.
function turn() {
  choose(null);
  showWhat();
}

function showMass() {
  const mass = numberIn("mass");
  const isOdd = mass !== null && (mass < MASS_G.low || mass > MASS_G.high);
  at("mass-warning").textContent = isOdd ? `${at("mass").value.trim()} g is outside the usual 0.5 to 5 g; times compare only between like masses.` : "";
}

function complain(id, sentence) {
  at(id).hidden = !sentence;
  at(id).textContent = sentence;
  return Boolean(sentence);
}

function numbersWrong(mass, preheat) {
  if (mass === null || mass <= 0 || mass > MASS_G.most) return "Give the mass in grams, for example 2,5.";
  if (preheat === null || preheat < PREHEAT_C.low || preheat > PREHEAT_C.high) return "Give the preheat in °C, for example 500.";
  return "";
}

function isWrong(setup) {
  const wrong = [
    complain("glass-error", !setup.piece && !isPiece() && !state.chosen ? "Choose the glass first." : ""),
    complain("piece-error", isPiece() && !setup.piece ? "Give the find its number or label." : ""),
    complain("consent-error", isPiece() && !setup.consent ? "Without the keeper's agreement the piece is not heated." : ""),
    complain("number-error", numbersWrong(setup.mass_g, setup.preheat_c)),
  ];
  return wrong.includes(true);
}

function setupNow() {
  return {
    glass_key: state.chosen?.key ?? null,
    glass_name: state.chosen?.name ?? "",
    piece: isPiece() ? oneLine(at("piece").value) || null : null,
    consent: isPiece() ? at("consent").checked : null,
    keeper: isPiece() ? oneLine(at("keeper").value) || null : null,
    mass_g: numberIn("mass"),
    preheat_c: numberIn("preheat"),
    torch: oneLine(at("torch").value),
    operator: oneLine(at("operator").value) || null,
  };
}

function toTheFlame(event) {
  event.preventDefault();
  const setup = setupNow();
  if (isWrong(setup)) {
    document.querySelector(".field-error:not([hidden])").scrollIntoView({ block: "center" });
    return;
  }
  const trialId = newId();
  saveDraft(trialId, setup);
  location.assign(`/bench/run?t=${trialId}`);
}

function fill(last, draft) {
  const from = draft ?? last;
  at("mass").value = from?.mass_g ?? "2.0";
  at("preheat").value = from?.preheat_c ?? "500";
  at("torch").value = from?.torch ?? "";
  at("operator").value = from?.operator ?? "";
  if (!draft?.piece) return;
  document.querySelector("[name=what][value=piece]").checked = true;
  at("piece").value = draft.piece;
  at("keeper").value = draft.keeper ?? "";
  if (draft.glass_name) choose({ key: draft.glass_key, name: draft.glass_name });
}

function chooseFirst({ chips, isUsed }) {
  const [key, name] = [asked.get("glass"), asked.get("name")];
  if (state.chosen || isPiece()) return;
  if (key || name) choose({ key, name: name ?? key });
  else if (isUsed) choose(chips[0]);
}

function showChips({ chips }) {
  at("chips").replaceChildren(...chips.map((glass) => choice(glass)));
}

function connect() {
  at("form").addEventListener("submit", toTheFlame);
  at("search").addEventListener("input", showChoices);
  at("mass").addEventListener("input", showMass);
  at("change").addEventListener("click", () => {
    choose(null);
    at("search").focus();
  });
  for (const radio of document.querySelectorAll("[name=what]")) radio.addEventListener("change", turn);
}

fill((await earlierSetups())[0], draftOf(asked.get("again") ?? ""));
showWhat();
showMass();
chooseFirst(await quickGlasses([]));
connect();
at("to-the-flame").disabled = false; // before this the browser would send the form by itself
showChips(await quickGlasses([]));
state.known = await everyGlass();
showChips(await quickGlasses(state.known));
const named = state.known.find((glass) => glass.key === state.chosen?.key);
if (named) choose(named);
