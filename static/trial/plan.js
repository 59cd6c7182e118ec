// The plan of a session: what is tried, how often, in which order. What was typed waits on the tablet until the plan is made.
import { knownPieces, piecesLike, pieceWords, standing } from "../find/uses.js";
import { newId, record } from "../web/outbox.js";
import { everyGlass, matching } from "./glasses.js";
import { MOST_RUNS, newSeed, runsOf } from "./order.js";
import { differenceFor, repeatsFor } from "./power.js";
import { scatterOf } from "./scatter.js";
import { allSessions, plannedName } from "./session.js";
import { everyTrial } from "./trials.js";

const DRAFT = "isokom-plan-draft";
const MAX_CHOICES = 6;
const MAX_GLASSES = 20;
const TYPED = ["apart", "mass", "preheat", "minutes", "title", "test"];
const CONDITIONS = ["torch", "nozzle", "fuel", "cylinder", "distance_cm", "holder", "room_c", "light", "operator"];
const NUMBERS = new Set(["distance_cm", "room_c"]);
const at = (id) => document.getElementById(id);
const oneLine = (text) => text.replace(/[\u0000-\u001f\u007f-\u009f]+/g, " ").trim();
const state = { known: [], pieces: [], glasses: [], reference: null, repeats: 3, seed: newSeed(), scatter: { sd: 0.1, df: 0 } };

/** A number as people write it, with comma or point; null when it is none. */
function numberIn(id) {
  const text = at(id).value.trim().replace(",", ".").replace("−", "-");
  return /^-?\d*\.?\d+$|^-?\d+\.$/.test(text) ? Number(text) : null;
}

function make(tag, attributes, ...children) {
  const element = Object.assign(document.createElement(tag), attributes);
  element.append(...children);
  return element;
}

function add(glass) {
  const isThere = state.glasses.some((g) => plannedName(g) === plannedName(glass) && g.key === glass.key);
  if (isThere || state.glasses.length >= MAX_GLASSES) return;
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
  const words = make("span", { className: "name", textContent: one ? pieceWords(one) : plannedName(glass) });
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
  const wrong = !piece ? "Give the find its number or label." : !consent ? "Without the keeper's agreement the piece is not heated." : "";
  at("piece-error").textContent = wrong;
  at("piece-error").hidden = !wrong;
  if (wrong) return;
  add({ key: null, name: "", piece_id: null, piece, consent: true });
  at("piece").value = "";
  at("consent").checked = false;
}

function showPieces() {
  const typed = oneLine(at("piece").value);
  const found = (typed ? piecesLike(state.pieces, typed) : state.pieces).slice(0, MAX_CHOICES);
  at("pieces").replaceChildren(...found.map((one) => {
    const button = make("button", { type: "button", className: "chip", textContent: pieceWords(one) });
    button.addEventListener("click", () => addKnown(one));
    return make("li", {}, button);
  }));
}

// A piece of the ledger: heated only within its keeper's consent and what is left of it, for all its runs together.
function addKnown(one) {
  const { blocks } = standing(one, numberIn("mass"), at("test").value);
  if (complain("piece-error", blocks.join(" "))) return;
  const { facts, id } = one.piece;
  add({ key: facts.glass_key, name: facts.glass_name, piece_id: id, piece: one.name, consent: true });
  at("piece").value = "";
}

// What all runs of a piece together break: its keeper's limits, or what is left of it.
function objections() {
  const said = [];
  for (const [i, glass] of state.glasses.entries()) {
    const one = state.pieces.find(({ piece }) => piece.id === glass.piece_id);
    const runs = i === state.reference ? referenceRuns(state.repeats * (state.glasses.length - 1)) : state.repeats;
    const mass = numberIn("mass");
    if (!one || !mass) continue;
    const { blocks, warns } = standing(one, runs * mass, at("test").value);
    said.push(...[...blocks, ...warns].map((text) => `${one.name}: ${text}`));
  }
  return said;
}

function runCount() {
  if (state.reference === null) return state.repeats * state.glasses.length;
  const tested = state.repeats * (state.glasses.length - 1);
  return tested + referenceRuns(tested);
}

// At the start, in the middle and at the end; a single run has no middle.
function referenceRuns(tested) {
  return tested > 1 ? 3 : 2;
}

function powerWords() {
  const apart = numberIn("apart");
  const { sd, df } = state.scatter;
  const from = df ? `so far times of one glass scatter by ${Math.round(100 * sd)} % (${df + 1} trials and more on this tablet)` : `scatter of ${Math.round(100 * sd)} % within a glass is assumed (judgement: no trials yet)`;
  const now = differenceFor(sd, state.repeats);
  const can = now === null ? "One run tells no scatter at all." : `${state.repeats} repeats show differences from about ${Math.ceil(now)} % on, eight times in ten.`;
  if (apart === null || apart <= 0) return `${can} Here ${from}.`;
  const needed = repeatsFor(sd, apart);
  return `${can} For ${apart} % you need ${needed === null ? "more than 200 repeats" : `${needed} repeats`}; ${from}.`;
}

function duration(minutes) {
  const whole = Math.round(minutes);
  return whole < 60 ? `${whole} min` : `${Math.floor(whole / 60)} h ${whole % 60} min`;
}

function costWords() {
  const [mass, minutes] = [numberIn("mass"), numberIn("minutes")];
  if (state.glasses.length < 2 || !mass || !minutes) return "";
  const tested = state.repeats * (state.glasses.length - 1);
  const reference = state.reference === null ? "" : `, ${(referenceRuns(tested) * mass).toFixed(1)} g of the reference`;
  return `${runCount()} runs, about ${duration(runCount() * minutes)}. ${(state.repeats * mass).toFixed(1)} g of each glass${reference}.`;
}

function keepDraft() {
  const typed = Object.fromEntries(TYPED.map((id) => [id, at(id).value]));
  const conditions = Object.fromEntries(CONDITIONS.map((id) => [id, at(`c-${id}`).value]));
  const { glasses, reference, repeats, seed } = state;
  localStorage.setItem(DRAFT, JSON.stringify({ typed, conditions, glasses, reference, repeats, seed, isBlind: at("blind").checked }));
}

function show() {
  at("planned").replaceChildren(...state.glasses.map(plannedRow));
  at("planned-none").hidden = state.glasses.length > 1;
  at("repeats-word").textContent = state.repeats === 1 ? "once each" : `${state.repeats} times each`;
  at("power").textContent = powerWords();
  at("cost").textContent = costWords();
  at("seed").textContent = state.seed;
  const said = objections();
  at("against").hidden = said.length === 0;
  at("against-list").replaceChildren(...said.map((text) => make("li", { textContent: text })));
  showPieces();
  showChoices();
  keepDraft();
}

function complain(id, sentence) {
  at(id).hidden = !sentence;
  at(id).textContent = sentence;
  return Boolean(sentence);
}

function conditionsNow() {
  return Object.fromEntries(CONDITIONS.map((id) => [id, NUMBERS.has(id) ? numberIn(`c-${id}`) : oneLine(at(`c-${id}`).value)]));
}

function isWrong() {
  const [mass, preheat, minutes] = [numberIn("mass"), numberIn("preheat"), numberIn("minutes")];
  const tooMany = state.glasses.length * state.repeats > MOST_RUNS;
  const numbers = !(mass > 0 && mass <= 1000) ? "Give the mass in grams, for example 2,0." : preheat === null || preheat < -50 || preheat > 1500 ? "Give the preheat in °C, for example 500." : !(minutes > 0 && minutes <= 600) ? "Give the minutes of one run." : "";
  const wrong = [
    complain("planned-error", state.glasses.length < 2 ? "Add at least two glasses or pieces." : tooMany ? `That is more than ${MOST_RUNS} runs: plan several sessions.` : ""),
    complain("number-error", numbers),
    complain("against-error", objections().length && !at("all-the-same").checked ? "Plan less, or say that you go on all the same." : ""),
  ];
  return wrong.includes(true);
}

async function makePlan(event) {
  event.preventDefault();
  if (isWrong()) return document.querySelector(".field-error:not([hidden])").scrollIntoView({ block: "center" });
  const { glasses, reference, repeats, seed } = state;
  const id = newId();
  await record("plan.made", id, {
    title: oneLine(at("title").value), test: at("test").value, repeats, seed, reference, glasses,
    mass_g: numberIn("mass"), preheat_c: numberIn("preheat"), minutes_each: numberIn("minutes"), is_blind: at("blind").checked,
    runs: await runsOf(seed, glasses.length, repeats, reference), conditions: conditionsNow(),
  });
  localStorage.removeItem(DRAFT);
  location.assign(`/bench/session?s=${id}`);
}

function restore(last) {
  const draft = JSON.parse(localStorage.getItem(DRAFT) ?? "null");
  const conditions = draft?.conditions ?? last?.conditions ?? {};
  for (const id of CONDITIONS) at(`c-${id}`).value = conditions[id] ?? "";
  if (!draft) return;
  for (const id of TYPED) at(id).value = draft.typed[id] ?? at(id).value;
  at("blind").checked = draft.isBlind;
  Object.assign(state, { glasses: draft.glasses, reference: draft.reference, repeats: draft.repeats, seed: draft.seed });
}

function connect() {
  at("plan").addEventListener("submit", makePlan);
  at("plan").addEventListener("input", show);
  at("plan").addEventListener("keydown", (event) => event.key === "Enter" && event.target.matches("input") && event.preventDefault());
  at("add-piece").addEventListener("click", addPiece);
  for (const button of document.querySelectorAll("[data-step]")) {
    button.addEventListener("click", () => {
      state.repeats = Math.min(30, Math.max(1, state.repeats + Number(button.dataset.step)));
      show();
    });
  }
}

restore((await allSessions())[0]);
state.scatter = scatterOf(await everyTrial());
connect();
show();
at("make").disabled = false;
state.pieces = await knownPieces();
show();
state.known = await everyGlass();
showChoices();
document.documentElement.dataset.ready = "plan";
