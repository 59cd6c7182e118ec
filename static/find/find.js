// One find: the keeper's consent, its pieces, its facts.
import { record } from "../web/outbox.js";
import { recordAfter } from "./after.js";
import { drawConsent, startConsent } from "./consent.js";
import { folded } from "./draft.js";
import { drawUnsettled, factsNow, fillFacts, fillOver, kept, overNow } from "./facts.js";
import { addPiece, allFinds, nameOfFind, today } from "./finds.js";
import { showGlass, startGlass } from "./glasses.js";
import { at, complain, dueWords, facts, isOverdue, leftWords, linkTo, make, massBar, numberFrom } from "./parts.js";
import { fillPiece, NO_FACTS, pieceNow } from "./pieceform.js";
import { grams } from "./sentences.js";
import { watch } from "./watch.js";

const MOST_G = 100_000;
const id = new URLSearchParams(location.search).get("f") ?? "";
const state = { find: null, isStarted: false };

function pieceRow(piece) {
  const said = [leftWords(piece), piece.facts.colour, piece.facts.condition].filter(Boolean).join(" · ");
  const over = piece.over_g > 0 ? [make("span", "small late", `${grams(piece.over_g)} g more was taken than there was`)] : [];
  const head = make("span", "piece-head", make("span", "name", piece.facts.label), make("span", "code", piece.facts.code));
  return make("li", "", linkTo(`/finds/piece?p=${piece.id}`, "", head, massBar(piece.left_g, piece.start_g), make("span", "small", said), ...over));
}

function drawNotices(find) {
  complain("due-notice", isOverdue(find, today()) ? `This loan ${dueWords(find, today())}. Send it back, or ask the keeper for more time and put the new day in below.` : "");
  complain("over-notice", find.over_g > 0 ? `Together, ${grams(find.over_g)} g more was taken from pieces of this find than there was. Two tablets have written about the same piece: weigh it again, and take back what is wrong.` : "");
}

function draw({ finds, pieces }) {
  const find = finds.find((one) => one.id === id);
  at("missing").hidden = Boolean(find);
  at("view").hidden = !find;
  if (!find) return;
  state.find = find;
  const name = nameOfFind(find.facts);
  document.querySelector("h1").textContent = name;
  document.title = `${name} · Isokom`;
  const own = pieces.filter((piece) => piece.facts.find === id);
  at("left").textContent = find.left_g === null ? "Nothing was weighed yet." : `${leftWords(find)} in ${own.length} ${own.length === 1 ? "piece" : "pieces"}.`;
  at("find-bar").replaceChildren(massBar(find.left_g, find.start_g));
  drawNotices(find);
  drawUnsettled(find);
  drawConsent(find);
  at("pieces").replaceChildren(...own.map(pieceRow));
  at("no-pieces").hidden = own.length > 0;
  at("labels").hidden = own.length === 0;
  at("labels").href = `/finds/labels?find=${id}`;
  const { site, context, number, keeper, loan_from, due, note } = find.facts;
  facts(at("facts"), [["Find number", number], ["Site", site], ["Context", context], ["Keeper", keeper], ["On loan since", loan_from], ["Due back", due], ["Remarks", note]]);
  if (!state.isStarted) start();
}

function weighingNow(form) {
  const [mass_g, u_g] = [numberFrom(form.elements.mass_g.value), numberFrom(form.elements.u_g.value)];
  const isWrong = [mass_g, u_g].some((value) => value === null || value > MOST_G) || (u_g !== undefined && mass_g === undefined);
  if (complain("piece-error", isWrong ? "Give the mass in grams, for example 2,5, or leave both blank." : "")) return null;
  return { mass_g, u_g: u_g ?? null };
}

async function storePiece(piece, weighing) {
  const { pieces } = await allFinds();
  const made = await addPiece({ find: id, ...piece }, pieces);
  if (weighing.mass_g !== undefined) await record("piece.weighed", made, weighing);
}

async function keepPiece(fold, event) {
  event.preventDefault();
  const form = at("piece-form");
  const [piece, weighing] = [pieceNow(form), weighingNow(form)];
  if (piece && weighing && (await kept("piece-error", () => storePiece(piece, weighing)))) fold.close();
}

async function keepFacts(fold, event) {
  event.preventDefault();
  const form = at("find-form");
  const body = factsNow(form);
  if (body && (await kept("facts-error", () => recordAfter("find.changed", id, { ...body, ...overNow(form) })))) fold.close();
}

function fillFind() {
  fillFacts(at("find-form"), state.find.facts);
  fillOver(at("find-form"), state.find.facts_latest);
}

function start() {
  state.isStarted = true;
  startConsent(id, () => state.find);
  startGlass();
  const newPiece = folded(at("piece-form"), at("add-piece"), `${id}:piece`, { fill: () => fillPiece(at("piece-form"), NO_FACTS), onFill: showGlass });
  at("piece-form").addEventListener("submit", (event) => keepPiece(newPiece, event));
  const change = folded(at("find-form"), at("change"), `${id}:facts`, { fill: fillFind });
  at("find-form").addEventListener("submit", (event) => keepFacts(change, event));
}

await watch(draw);
