// The form of a new test. Its start is recorded before the page moves on to the readings.
import { NotKept, newId, record } from "../web/outbox.js";
import { complain } from "../web/parts.js";
import { Chooser } from "./chooser.js";
import { askedRun } from "./dish.js";
import { LETTERS, at, kind, make, numberFrom, oneLine } from "./kind.js";
import { takeFromLedger } from "./pieces.js";
import { everyTest } from "./tests.js";

const COUNTS = { pull: [2, 12], thread: [2, 2], fuse: [1, 12], strip: [1, 1] };
const asked = new URLSearchParams(location.search);
const [fewest, most] = COUNTS[kind.test];
const state = { pattern: "", run: null };
let chooser; // who knows the glasses: the hand on this form, or the run of a session

function letters() {
  return [...LETTERS].slice(0, chooser.chosen.length);
}

/** Big choices of a letter for each chosen glass. */
function showLetterChoice(place) {
  const name = place.dataset.setup;
  const held = place.querySelector("input:checked")?.value ?? kind.setup[name].default;
  const choices = letters().map((letter, i) => {
    const radio = make("input", { type: "radio", name: `s-${name}`, value: letter, checked: letter === held });
    return make("label", { className: "word-choice" }, radio, make("span", {}, make("b", { textContent: letter }), ` ${chooser.chosen[i].name}`));
  });
  place.replaceChildren(...choices);
  place.closest("fieldset").hidden = choices.length < 2 || Boolean(state.run);
}

function showRod() {
  if (!at("rod-chips")) return;
  const { letters: limits } = kind.setup.pattern;
  state.pattern = [...state.pattern].filter((letter) => letters().includes(letter)).join("");
  at("rod-chips").replaceChildren(...[...state.pattern].map((letter) => make("span", { className: "rod-chip", textContent: letter })));
  at("rod-chips").setAttribute("aria-label", state.pattern ? `The rod: ${[...state.pattern].join(", ")}` : "No chip yet");
  at("rod-letters").replaceChildren(...letters().map((letter) => rodButton(letter, state.pattern.length >= limits[1])));
  at("rod-shorter").disabled = !state.pattern;
}

function rodButton(letter, isFull) {
  const button = make("button", { type: "button", className: "chip", textContent: `Add ${letter}`, disabled: isFull });
  button.addEventListener("click", () => {
    state.pattern += letter;
    showRod();
    at("rod-letters").children[letters().indexOf(letter)]?.focus();
  });
  return button;
}

function showGlasses() {
  if (kind.setup.pattern && !state.pattern && chooser.chosen.length >= 2) state.pattern = kind.setup.pattern.default;
  for (const place of document.querySelectorAll(".letters-of-glasses")) showLetterChoice(place);
  showRod();
  at("consent-part").hidden = chooser.areAllKnown();
  if (chooser.areAllKnown()) at("consent").checked = false;
  showAgainst();
}

function showAgainst() {
  const { blocks, warns } = chooser.objections();
  at("against").hidden = !blocks.length && !warns.length;
  at("against-head").textContent = blocks.length ? "A piece is not used." : "Something speaks against it.";
  at("against-list").replaceChildren(...[...blocks, ...warns].map((text) => make("li", { textContent: text })));
  at("all-the-same-part").hidden = blocks.length > 0;
}

function piecesWrong(glasses) {
  const { blocks, warns } = chooser.objections();
  if (blocks.length) return "A piece is not used: see above.";
  if (warns.length && !at("all-the-same").checked) return "Say above that you go on all the same, or take another piece.";
  const bare = glasses.findIndex((glass) => glass.piece_id && !(glass.mass_g > 0));
  return bare < 0 ? "" : `Give the mass of piece ${LETTERS[bare]} that is used up, in grams.`;
}

/** [setup, what is wrong with it or ""]. */
function setupNow() {
  const setup = {};
  for (const [name, about] of Object.entries(kind.setup)) {
    if (about.letters) {
      setup[name] = state.pattern;
      if (state.pattern.length < about.letters[0]) return [setup, "Build the rod: at least two chips, in their order."];
    } else if (about.letter && state.run) setup[name] = state.run.letters[name];
    else if (about.words || about.letter) setup[name] = document.querySelector(`[name="s-${name}"]:checked`)?.value ?? about.default;
    else {
      const typed = at(`s-${name}`).value;
      const value = numberFrom(typed);
      if (!typed.trim() && about.optional) continue;
      if (value === null || value < about.min || value > about.max) return [setup, `${about.label}: give a number from ${about.min} to ${about.max} ${about.unit}.`];
      setup[name] = value;
    }
  }
  return [setup, ""];
}

function glassesWrong(glasses) {
  if (glasses.length < fewest) return fewest === 1 ? "Choose the glass first." : `Choose ${fewest} glasses first.`;
  const bare = chooser.chosen.findIndex((glass) => glass.piece !== null && !oneLine(glass.piece));
  return bare < 0 ? "" : `Give the piece of glass ${LETTERS[bare]} its find number or label.`;
}

// In a second tab the run may have begun, a dish been left out, or the session ended, while this form stood open.
async function isStillToCome() {
  const again = await askedRun(asked, goTo);
  if (again) chooser = state.run = again;
  return complain("setup-error", again ? "" : "This dish is done already, or its session is closed. Go back to the session.") === false;
}

function goTo(testId) {
  location.replace(`${location.pathname}?m=${testId}`);
}

async function begin(event) {
  event.preventDefault();
  if (state.run && !(await isStillToCome())) return undefined;
  const glasses = chooser.glasses();
  const [setup, setupWrong] = setupNow();
  const isPiece = chooser.hasPieces();
  const wrong = [
    complain("glass-error", glassesWrong(glasses)),
    complain("against-error", piecesWrong(glasses)),
    complain("consent-error", !chooser.areAllKnown() && !at("consent").checked ? "Without the keeper's agreement the piece is not heated." : ""),
    complain("setup-error", setupWrong),
  ];
  if (wrong.includes(true)) return document.querySelector(".field-error:not([hidden])").scrollIntoView({ block: "center" });
  const body = { test: kind.test, title: oneLine(at("title").value), glasses, setup, consent: isPiece ? true : null, operator: oneLine(at("operator").value) || null };
  if (state.run) Object.assign(body, { session: state.run.session.id, dishes: state.run.dishes });
  return store(body);
}

async function store(body) {
  const id = newId();
  at("begin").disabled = true;
  try {
    await record("measure.started", id, body);
  } catch (error) {
    if (!(error instanceof NotKept)) throw error;
    at("begin").disabled = false;
    return complain("setup-error", `${error.message} Nothing is lost: try once more.`);
  }
  if (!state.run?.isCovered) await takeFromLedger(id, body); // what cannot be written now, the test's page writes when it opens
  return location.replace(`${location.pathname}?m=${id}`);
}

/** A glass or a piece that the address names is chosen already. */
function chooseAsked() {
  const [key, name, piece, pieceId] = ["glass", "name", "label", "piece"].map((one) => asked.get(one));
  if (!key && !name && !piece) return;
  chooser.add({ key: key || null, name: name || key || piece, piece: piece || null, pieceId: pieceId || null });
}

/** A run of a session: its glasses stand, and it is done as the one before it. */
async function takeRun() {
  const { session } = state.run;
  at("glasses-part").hidden = at("intro").hidden = true;
  at("dish-part").hidden = false;
  at("dish-words").textContent = state.run.words();
  at("back-to-session").href = `/bench/session?s=${session.id}`;
  at("operator").value = session.conditions.operator;
  const before = (await everyTest()).find((test) => test.session === session.id);
  for (const [name, value] of Object.entries(before?.setup ?? {})) {
    const about = kind.setup[name];
    if (about.letters) state.pattern = value;
    else if (about.words) document.querySelector(`[name="s-${name}"][value="${CSS.escape(value)}"]`).checked = true;
    else if (!about.letter) at(`s-${name}`).value = value;
  }
}

/** Show the form: of a test of its own, or of a run of a session. */
export async function showSetup() {
  state.run = asked.get("s") && (await askedRun(asked, goTo));
  if (asked.get("s") && !state.run) return void (at("part-nothing").hidden = false);
  chooser = state.run || new Chooser({ fewest, most, onChange: showGlasses });
  if (state.run) await takeRun();
  at("part-setup").hidden = false;
  at("form").addEventListener("submit", begin);
  at("rod-shorter")?.addEventListener("click", () => {
    state.pattern = state.pattern.slice(0, -1);
    showRod();
  });
  if (!state.run) chooseAsked();
  showGlasses();
  at("begin").disabled = false; // before this the browser would send the form by itself
  await chooser.load();
  showGlasses();
  document.documentElement.dataset.ready = "measure";
}
