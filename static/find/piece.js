// One piece: what is left of it, what was done with it, its photos and its facts.
import { drawInto, startAct } from "./act.js";
import { recordAfter } from "./after.js";
import { folded } from "./draft.js";
import { drawUnsettled, fillOver, kept, overNow } from "./facts.js";
import { nameOfFind } from "./finds.js";
import { showGlass, startGlass } from "./glasses.js";
import { at, complain, consentWhole, facts, linkTo, mass, massBar } from "./parts.js";
import { drawPhotos, startPhotos } from "./photos.js";
import { fillPiece, pieceNow } from "./pieceform.js";
import { drawRows, startRows } from "./rows.js";
import { grams } from "./sentences.js";
import { watch } from "./watch.js";

const id = new URLSearchParams(location.search).get("p") ?? "";
const state = { find: null, piece: null, pieces: [], isStarted: false };

function glassFact({ link, glass_key, glass_name }) {
  if (link === "none") return "";
  return glass_key ? linkTo(`/glass/${encodeURIComponent(glass_key)}`, "", glass_name) : glass_name;
}

function drawFacts(piece, find) {
  const { colour, opacity, condition, link, note } = piece.facts;
  facts(at("facts"), [
    ["Find", find ? nameOfFind(find.facts) : "not known on this tablet"],
    ["Consent", find ? consentWhole(find.consent) : ""],
    ["Colour", colour],
    ["Opacity", opacity],
    ["Condition", condition],
    [link === "own" ? "Its analysis" : "Analysis of a like glass", glassFact(piece.facts)],
    ["Remarks", note],
  ]);
}

function drawLeft(piece) {
  at("left").replaceChildren(piece.left_g === null ? "Not weighed yet" : mass(piece.left_g));
  at("left-words").textContent = piece.left_g === null ? "" : `left of ${grams(piece.start_g)} g`;
  at("bar").replaceChildren(massBar(piece.left_g, piece.start_g));
  complain("over-notice", piece.over_g > 0 ? `${grams(piece.over_g)} g more was taken from this piece than there was. Two tablets have written about it: weigh it again, and take back what is wrong.` : "");
}

async function draw({ finds, pieces }) {
  const piece = pieces.find((one) => one.id === id);
  at("missing").hidden = Boolean(piece);
  at("view").hidden = !piece;
  if (!piece) return;
  const find = finds.find((one) => one.id === piece.facts.find) ?? null;
  Object.assign(state, { find, piece, pieces });
  document.querySelector("h1").textContent = piece.facts.label;
  document.title = `${piece.facts.label} · Isokom`;
  at("to-find").hidden = !find;
  at("to-find").href = `/finds/find?f=${piece.facts.find}`;
  at("to-find").textContent = find ? nameOfFind(find.facts) : "";
  at("code").textContent = piece.facts.code;
  drawLeft(piece);
  drawUnsettled(piece);
  drawFacts(piece, find);
  drawRows(piece, pieces);
  if (state.isStarted) drawInto(piece, pieces);
  else start();
  await drawPhotos(piece);
}

async function keepFacts(fold, event) {
  event.preventDefault();
  const form = at("piece-form");
  const changed = pieceNow(form);
  const { find, code } = state.piece.facts;
  if (changed && (await kept("piece-error", () => recordAfter("piece.changed", id, { find, code, ...changed, ...overNow(form) })))) fold.close();
}

function fillFacts() {
  fillPiece(at("piece-form"), state.piece.facts);
  fillOver(at("piece-form"), state.piece.facts_latest);
}

function start() {
  state.isStarted = true;
  startAct(id, () => state);
  startRows(id);
  startPhotos(id);
  startGlass();
  const change = folded(at("piece-form"), at("change"), `${id}:facts`, { fill: fillFacts, onFill: showGlass });
  at("piece-form").addEventListener("submit", (event) => keepFacts(change, event));
}

await watch(draw);
