// The form of a new trial. Nothing is recorded here: the choice travels to the run page and becomes an entry with the first press.
import { chosenPiece, knownPieces, piecesLike, pieceWords, reservedIn, standing } from "../find/uses.js";
import { allSessions, askDesk, settingAside } from "../plan/session.js";
import { newId } from "../web/outbox.js";
import { at, complain, numberFrom, oneLine } from "../web/parts.js";
import { draftOf, saveDraft } from "./draft.js";
import { everyGlass, matching, quickGlasses } from "./glasses.js";
import { earlierSetups } from "./trials.js";

const MAX_CHOICES = 8;
const MASS_G = { low: 0.5, high: 5, most: 1000 };
const PREHEAT_C = { low: -50, high: 1500 };
const asked = new URLSearchParams(location.search);
const state = { known: [], chosen: null, pieces: [], piece: null, reserved: reservedIn([]) };

const numberIn = (id) => numberFrom(at(id).value);
const isPiece = () => document.querySelector("[name=what]:checked").value === "piece";

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

function choosePiece(one) {
  state.piece = one;
  if (one) {
    const { piece, glass_key, glass_name, keeper } = chosenPiece(one);
    at("piece").value = piece;
    at("keeper").value = keeper ?? "";
    choose(glass_name ? { key: glass_key, name: glass_name } : null);
  }
  at("consent-part").hidden = Boolean(one);
  showPieces();
  showAgainst();
}

function showPieces() {
  const typed = oneLine(at("piece").value);
  const found = state.piece || !state.pieces.length ? [] : (typed ? piecesLike(state.pieces, typed) : state.pieces).slice(0, MAX_CHOICES);
  at("pieces").replaceChildren(...found.map((one) => {
    const button = Object.assign(document.createElement("button"), { type: "button", className: "chip", textContent: pieceWords(one, state.reserved) });
    button.addEventListener("click", () => choosePiece(one));
    const item = document.createElement("li");
    item.append(button);
    return item;
  }));
}

const objections = () => (isPiece() && state.piece ? standing(state.piece, numberIn("mass"), "flame", state.reserved) : { blocks: [], warns: [] });

function showAgainst() {
  const { blocks, warns } = objections();
  const isBlocked = blocks.length > 0;
  at("against").hidden = !isBlocked && !warns.length;
  at("against-head").textContent = isBlocked ? "This piece is not heated." : "Something speaks against it.";
  at("against-list").replaceChildren(...[...blocks, ...warns].map((text) => Object.assign(document.createElement("li"), { textContent: text })));
  at("against-link").hidden = !isBlocked;
  if (state.piece?.find) at("against-link").querySelector("a").href = `/finds/find?f=${state.piece.find.id}`;
  at("all-the-same-part").hidden = isBlocked;
}

// What speaks against heating a piece: blocked outright, or only after the person has said that they know.
function objection() {
  const { blocks, warns } = objections();
  if (blocks.length) return "This piece is not heated: see above.";
  return warns.length && !at("all-the-same").checked ? "Say above that you go on all the same, or take another piece." : "";
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

function numbersWrong(mass, preheat) {
  if (mass === null || mass <= 0 || mass > MASS_G.most) return "Give the mass in grams, for example 2,5.";
  if (preheat === null || preheat < PREHEAT_C.low || preheat > PREHEAT_C.high) return "Give the preheat in °C, for example 500.";
  return "";
}

// A piece that has a ledger is never heated past it: typed in full, or by its code, it is that piece.
function recogniseTyped() {
  const typed = oneLine(at("piece").value);
  if (!isPiece() || state.piece || !typed) return;
  const known = piecesLike(state.pieces, typed);
  const one = known.find(({ piece: { facts }, name }) => [name, facts.label, facts.code].some((word) => word.toLowerCase() === typed.toLowerCase()));
  if (one) choosePiece(one);
}

function isWrong(setup) {
  const wrong = [
    complain("glass-error", !setup.piece && !isPiece() && !state.chosen ? "Choose the glass first." : ""),
    complain("piece-error", isPiece() && !setup.piece ? "Give the find its number or label." : ""),
    complain("consent-error", isPiece() && !state.piece && !setup.consent ? "Without the keeper's agreement the piece is not heated." : objection()),
    complain("number-error", numbersWrong(setup.mass_g, setup.preheat_c)),
  ];
  return wrong.includes(true);
}

function setupNow() {
  return {
    glass_key: state.chosen?.key ?? null,
    glass_name: state.chosen?.name ?? "",
    piece: isPiece() ? oneLine(at("piece").value) || null : null,
    consent: isPiece() ? at("consent").checked || Boolean(state.piece && !objections().blocks.length) : null,
    ...(isPiece() && state.piece ? { piece_id: state.piece.piece.id } : {}),
    keeper: isPiece() ? oneLine(at("keeper").value) || null : null,
    mass_g: numberIn("mass"),
    preheat_c: numberIn("preheat"),
    torch: oneLine(at("torch").value),
    operator: oneLine(at("operator").value) || null,
  };
}

function toTheFlame(event) {
  event.preventDefault();
  recogniseTyped();
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
  at("mass").addEventListener("input", showAgainst);
  at("piece").addEventListener("input", () => choosePiece(null));
  at("change").addEventListener("click", () => {
    choose(null);
    at("search").focus();
  });
  for (const radio of document.querySelectorAll("[name=what]")) radio.addEventListener("change", turn);
}

// A piece that the address or the draft names is chosen as soon as the finds are read.
async function findPieces() {
  state.reserved = reservedIn(settingAside(await allSessions()));
  state.pieces = await knownPieces();
  const named = asked.get("piece") ?? draftOf(asked.get("again") ?? "")?.piece_id;
  const one = state.pieces.find(({ piece }) => piece.id === named);
  if (one) {
    document.querySelector("[name=what][value=piece]").checked = true;
    showWhat();
    choosePiece(one);
  } else showPieces();
  await askDesk(); // what other tablets have planned of a piece counts too
  state.reserved = reservedIn(settingAside(await allSessions()));
  showPieces();
  showAgainst();
}

fill((await earlierSetups())[0], draftOf(asked.get("again") ?? ""));
showWhat();
showMass();
chooseFirst(await quickGlasses([]));
connect();
at("to-the-flame").disabled = false; // before this the browser would send the form by itself
showChips(await quickGlasses([]));
await findPieces();
state.known = await everyGlass();
showChips(await quickGlasses(state.known));
const named = state.known.find((glass) => glass.key === state.chosen?.key);
if (named) choose(named);
