// The plan of a session: what is tried, how often, in which order. What was typed waits on the tablet until the plan is made.
import { grams } from "../find/sentences.js";
import { knownPieces, piecesLike, pieceWords, reservedIn, standing, standingTogether } from "../find/uses.js";
import { MOST_RUNS, newSeed, runsOf } from "../plan/order.js";
import { allSessions, askDesk, plannedName, settingAside } from "../plan/session.js";
import { everyTrial } from "../trial/trials.js";
import { everyGlass, matching } from "../web/glasses.js";
import { NotKept, newId, record } from "../web/outbox.js";
import { at, complain, make, numberFrom, oneLine } from "../web/parts.js";
import { KINDS, wrongGlasses } from "./kinds.js";
import { costWords, portionsOf, powerWords, runCount } from "./price.js";
import { scatterFor } from "./scatter.js";

const DRAFT = "isokom-plan-draft";
const MAX_CHOICES = 6;
const MAX_GLASSES = 20;
const TYPED = ["apart", "margin", "mass", "preheat", "minutes", "title", "test"];
const CONDITIONS = ["torch", "nozzle", "fuel", "cylinder", "distance_cm", "holder", "room_c", "light", "operator"];
const RANGES = { distance_cm: ["From the cone", 0, 100], room_c: ["Room", -40, 60] };
const numberIn = (id) => numberFrom(at(id).value);
const test = () => at("test").value;
const state = { known: [], pieces: [], glasses: [], reference: null, repeats: 3, seed: newSeed(), trials: [], reserved: reservedIn([]), isBusy: false };

function add(glass) {
  const isThere = state.glasses.some((g) => plannedName(g) === plannedName(glass) && g.key === glass.key);
  if (complain("planned-error", state.glasses.length >= MAX_GLASSES ? `A session takes ${MAX_GLASSES} glasses: plan a second one.` : "") || isThere) return;
  state.glasses.push(glass);
  at("search").value = "";
  show();
}

function remove(index) {
  state.glasses.splice(index, 1);
  if (state.reference === index) state.reference = null;
  else if (state.reference > index) state.reference -= 1;
  show();
}

function plannedRow(glass, index) {
  const radio = make("input", { type: "checkbox", checked: state.reference === index });
  radio.addEventListener("change", () => {
    state.reference = radio.checked ? index : null;
    show();
  });
  const out = make("button", { type: "button", className: "quiet", textContent: "Remove" });
  out.setAttribute("aria-label", `Remove ${plannedName(glass)}`);
  out.addEventListener("click", () => remove(index));
  const one = state.pieces.find(({ piece }) => piece.id === glass.piece_id);
  const words = make("span", { className: "name", textContent: one ? pieceWords(one, state.reserved) : plannedName(glass) });
  return make("li", {}, words, make("label", {}, radio, "reference"), out);
}

function showChoices() {
  const typed = oneLine(at("search").value);
  const found = typed ? matching(state.known, typed) : [];
  const glasses = found.slice(0, MAX_CHOICES).map((g) => ({ key: g.key, name: g.name }));
  if (typed && !found.some((g) => g.name.toLowerCase() === typed.toLowerCase())) glasses.push({ key: null, name: typed });
  at("choices").replaceChildren(...glasses.map((g) => {
    const button = make("button", { type: "button", className: "chip", textContent: g.key ? g.name : `Not listed: call it “${g.name}”` });
    button.addEventListener("click", () => add({ ...g, piece_id: null, piece: null, consent: null }));
    return make("li", {}, button);
  }));
  at("search-count").textContent = typed ? `${found.length} found${found.length > MAX_CHOICES ? `, ${MAX_CHOICES} shown` : ""}` : "";
}

function addPiece() {
  const [piece, consent] = [oneLine(at("piece").value), at("consent").checked];
  const known = piece ? piecesLike(state.pieces, piece) : [];
  const one = known.find(({ piece: { facts }, name }) => [name, facts.label, facts.code].some((word) => word.toLowerCase() === piece.toLowerCase()));
  if (one) return addKnown(one); // a piece that has a ledger is never planned past it
  const wrong = !piece ? "Give the find its number or label." : !consent ? "Without the keeper's agreement the piece is not heated." : "";
  at("piece-error").textContent = wrong;
  at("piece-error").hidden = !wrong;
  if (wrong) return undefined;
  add({ key: null, name: "", piece_id: null, piece, consent: true });
  at("piece").value = "";
  at("consent").checked = false;
  return undefined;
}

function showPieces() {
  const typed = oneLine(at("piece").value);
  const found = (typed ? piecesLike(state.pieces, typed) : state.pieces).slice(0, MAX_CHOICES);
  at("pieces").replaceChildren(...found.map((one) => {
    const button = make("button", { type: "button", className: "chip", textContent: pieceWords(one, state.reserved) });
    button.addEventListener("click", () => addKnown(one));
    return make("li", {}, button);
  }));
}

// A piece of the ledger: planned only with its keeper's consent; whether enough of it is left for all its runs is said below, once the mass stands.
function addKnown(one) {
  const { blocks } = standing(one, null, test(), state.reserved);
  if (complain("piece-error", blocks.join(" "))) return;
  const { facts, id } = one.piece;
  add({ key: facts.glass_key, name: facts.glass_name, piece_id: id, piece: one.name, consent: true });
  at("piece").value = "";
}

function planNow() {
  const { glasses, reference, repeats } = state;
  return { test: test(), glasses, reference, repeats };
}

// What all runs of all pieces together break: {blocks, warns}, the keepers' consent and what is left apart from their limits.
function objections() {
  const mass = numberIn("mass") ?? 0;
  const wanted = state.glasses.flatMap((glass, i) => {
    const one = state.pieces.find(({ piece }) => piece.id === glass.piece_id);
    return one ? [{ one, mass_g: portionsOf(planNow(), i) * mass }] : [];
  });
  return standingTogether(wanted, test(), state.reserved);
}

function showAgainst() {
  const { blocks, warns } = objections();
  at("against").hidden = !blocks.length && !warns.length;
  at("against-head").textContent = blocks.length ? "This plan cannot be made." : "This plan breaks what the finds allow.";
  at("against-list").replaceChildren(...[...blocks, ...warns].map((text) => make("li", { textContent: text })));
  at("all-the-same-part").hidden = blocks.length > 0;
}

function objection() {
  const { blocks, warns } = objections();
  if (blocks.length) return "Take these pieces out, or plan less.";
  return warns.length && !at("all-the-same").checked ? "Plan less, or say that you go on all the same." : "";
}

function keepDraft() {
  const typed = Object.fromEntries(TYPED.map((id) => [id, at(id).value]));
  const conditions = Object.fromEntries(CONDITIONS.map((id) => [id, at(`c-${id}`).value]));
  const { glasses, reference, repeats } = state;
  const seed = at("seed").value;
  localStorage.setItem(DRAFT, JSON.stringify({ typed, conditions, glasses, reference, repeats, seed, isBlind: at("blind").checked }));
}

// What the chosen test asks in its own words.
function showKind() {
  const { mass, what, unit } = KINDS[test()];
  at("mass-word").textContent = mass;
  at("apart-word").textContent = `I want to see ${what} that differ by`;
  at("apart-unit").textContent = unit;
  at("preheat-part").hidden = at("margin-part").hidden = test() !== "flame";
  at("torch-part").hidden = test() === "fuse";
}

// Another test has its own usual mass, minutes and differences.
function turn() {
  at("mass").value = grams(KINDS[test()].grams);
  at("minutes").value = KINDS[test()].minutes;
  at("apart").value = KINDS[test()].apart;
  show();
}

function show() {
  at("planned").replaceChildren(...state.glasses.map(plannedRow));
  at("planned-none").hidden = state.glasses.length > 1;
  at("repeats-word").textContent = state.repeats === 1 ? "once each" : `${state.repeats} times each`;
  showKind();
  at("power").textContent = powerWords(planNow(), scatterFor(test(), state.trials), numberIn("apart"));
  at("cost").textContent = costWords(planNow(), numberIn("mass"), numberIn("minutes"));
  showAgainst();
  showPieces();
  showChoices();
  keepDraft();
}

function conditionsNow() {
  return Object.fromEntries(CONDITIONS.map((id) => [id, RANGES[id] ? numberIn(`c-${id}`) : oneLine(at(`c-${id}`).value)]));
}

function conditionsWrong() {
  for (const [id, [name, least, most]] of Object.entries(RANGES)) {
    const [text, value] = [at(`c-${id}`).value.trim(), numberIn(`c-${id}`)];
    if (text && (value === null || value < least || value > most)) return `${name}: give a number from ${least} to ${most}, or nothing.`;
  }
  return oneLine(at("seed").value) ? "" : "Give the seed a few signs.";
}

function marginWrong() {
  const margin = numberIn("margin");
  return test() !== "flame" || !at("margin").value.trim() || (margin >= 1 && margin <= 100) ? "" : "Alike within: give 1 to 100 per cent, for example 20, or nothing.";
}

function isWrong() {
  const [mass, preheat, minutes] = [numberIn("mass"), numberIn("preheat"), numberIn("minutes")];
  const tooMany = state.glasses.length * state.repeats > MOST_RUNS ? `That is more than ${MOST_RUNS} runs: plan several sessions.` : "";
  const numbers = !(mass > 0 && mass <= 1000) ? "Give the mass in grams, for example 2,0." : preheat === null || preheat < -50 || preheat > 1500 ? "Give the preheat in °C, for example 500." : !(minutes > 0 && minutes <= 600) ? "Give the minutes of one run." : marginWrong();
  const wrong = [
    complain("planned-error", state.glasses.length < 2 ? "Add at least two glasses or pieces." : tooMany || wrongGlasses(test(), state.glasses, state.reference, runCount(planNow()))),
    complain("number-error", numbers),
    complain("against-error", objection()),
    complain("conditions-error", conditionsWrong()),
  ];
  return wrong.includes(true);
}

async function makePlan(event) {
  event.preventDefault();
  if (isWrong()) return document.querySelector(".field-error:not([hidden])").scrollIntoView({ block: "center" });
  if (state.isBusy) return undefined;
  state.isBusy = true;
  const { glasses, reference, repeats } = state;
  const [id, seed] = [newId(), oneLine(at("seed").value)];
  const body = {
    title: oneLine(at("title").value), test: test(), repeats, seed, reference, glasses,
    mass_g: numberIn("mass"), preheat_c: numberIn("preheat"), minutes_each: numberIn("minutes"), is_blind: at("blind").checked,
    runs: await runsOf(seed, glasses.length, repeats, reference), conditions: conditionsNow(),
    ...(test() === "flame" && at("margin").value.trim() ? { margin_percent: numberIn("margin") } : {}),
  };
  try {
    await record("plan.made", id, body);
  } catch (error) {
    if (!(error instanceof NotKept)) throw error;
    state.isBusy = false;
    return complain("conditions-error", `${error.message} Nothing typed is lost: try once more.`);
  }
  localStorage.removeItem(DRAFT);
  return location.assign(`/bench/session?s=${id}`);
}

function restore(last) {
  const draft = JSON.parse(localStorage.getItem(DRAFT) ?? "null");
  const conditions = draft?.conditions ?? last?.conditions ?? {};
  for (const id of CONDITIONS) at(`c-${id}`).value = conditions[id] ?? "";
  at("seed").value = draft?.seed ?? state.seed;
  if (!draft) return;
  for (const id of TYPED) at(id).value = draft.typed[id] ?? at(id).value;
  at("blind").checked = draft.isBlind;
  Object.assign(state, { glasses: draft.glasses, reference: draft.reference, repeats: draft.repeats });
}

function connect() {
  at("plan").addEventListener("submit", makePlan);
  at("plan").addEventListener("input", show);
  at("test").addEventListener("change", turn);
  at("plan").addEventListener("keydown", (event) => event.key === "Enter" && event.target.matches("input") && event.preventDefault());
  at("add-piece").addEventListener("click", addPiece);
  for (const button of document.querySelectorAll("[data-step]")) {
    button.addEventListener("click", () => {
      state.repeats = Math.min(30, Math.max(1, state.repeats + Number(button.dataset.step)));
      show();
    });
  }
}

const sessions = await allSessions();
restore(sessions[0]);
state.reserved = reservedIn(settingAside(sessions));
state.trials = await everyTrial();
connect();
show();
at("make").disabled = false;
state.pieces = await knownPieces();
show();
await askDesk(); // what other tablets have planned of a piece counts too
state.reserved = reservedIn(settingAside(await allSessions()));
show();
state.known = await everyGlass();
showChoices();
document.documentElement.dataset.ready = "plan";
