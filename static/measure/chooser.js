// The glasses of a test: A, B, C … in the order in which they were chosen, each of them perhaps a piece of a find.
import { chosenPiece, knownPieces, piecesLike, pieceWords, reservedIn, standingTogether } from "../find/uses.js";
import { allSessions, askDesk, settingAside } from "../plan/session.js";
import { everyGlass, matching, quickFrom } from "../web/glasses.js";
import { LETTERS, at, kind, make, numberFrom, oneLine } from "./kind.js";
import { everyTest } from "./tests.js";

const MAX_CHOICES = 8;

/** The list of chosen glasses on the form. onChange() after each change. */
export class Chooser {
  constructor({ fewest, most, onChange }) {
    Object.assign(this, { fewest, most, onChange, chosen: [], known: [], used: [], pieces: [], isOpen: true });
    at("search").addEventListener("input", () => this.offer());
    at("add-glass").addEventListener("click", () => this.open());
  }

  async load() {
    const starts = (await everyTest()).filter(({ session }) => !session).flatMap((test) => test.glasses);
    this.used = starts.filter((glass) => !glass.piece).map(({ key, name }) => ({ key, name }));
    this.show();
    this.pieces = await knownPieces(reservedIn(settingAside(await allSessions())));
    this.known = await everyGlass();
    this.show();
    await askDesk(); // what other tablets have planned of a piece counts too
    this.pieces = await knownPieces(reservedIn(settingAside(await allSessions())));
    this.show();
    this.onChange();
  }

  /** The glasses as an entry carries them. */
  glasses() {
    return this.chosen.map(({ key, name, piece, pieceId, mass = "" }) => ({ key, name, piece_id: pieceId ?? null, piece: piece === null ? null : oneLine(piece) || null, mass_g: pieceId ? numberFrom(mass) : null }));
  }

  /** True where every piece is one of the ledger, whose keeper's consent stands there. */
  areAllKnown() {
    return this.chosen.every((glass) => glass.piece === null || glass.pieceId);
  }

  /** What speaks against the pieces of the ledger, and what forbids them: {blocks, warns}. */
  objections() {
    const wanted = this.chosen.map(({ pieceId, mass = "" }) => ({ one: pieceId && this.pieces.find(({ piece }) => piece.id === pieceId), mass_g: numberFrom(mass) }));
    return standingTogether(wanted.filter(({ one }) => one), kind.test);
  }

  addKnown(one) {
    const { piece_id, piece, glass_key, glass_name } = chosenPiece(one);
    this.add({ key: glass_key, name: glass_name || piece, piece, pieceId: piece_id });
  }

  pieceChoice(one) {
    const button = make("button", { type: "button", className: "chip", textContent: pieceWords(one) });
    button.addEventListener("click", () => this.addKnown(one));
    return button;
  }

  hasPieces() {
    return this.chosen.some((glass) => glass.piece !== null);
  }

  /** A piece lies in a test once: what is used up of it is one mass. */
  refuses({ piece, pieceId }) {
    const place = pieceId ? this.chosen.findIndex((glass) => glass.pieceId === pieceId) : -1;
    at("glass-error").hidden = place < 0;
    at("glass-error").textContent = place < 0 ? "" : `${piece} is chosen already, as glass ${LETTERS[place]}. Give there the mass of all its chips together.`;
    return place >= 0;
  }

  add({ key, name, piece = null, pieceId = null }) {
    if (this.refuses({ piece, pieceId })) return;
    this.chosen.push({ key, name, piece, pieceId });
    at("search").value = "";
    this.isOpen = this.chosen.length < this.fewest;
    this.show();
    this.onChange();
  }

  open() {
    this.isOpen = true;
    this.show();
    at("search").focus();
  }

  remove(place) {
    this.chosen.splice(place, 1);
    this.isOpen = this.chosen.length < this.fewest;
    this.show();
    this.onChange();
  }

  choice(glass, words) {
    const button = make("button", { type: "button", className: "chip", textContent: words ?? glass.name });
    button.addEventListener("click", () => this.add(glass));
    return button;
  }

  offer() {
    const typed = oneLine(at("search").value);
    const found = typed ? matching(this.known, typed) : [];
    const pieces = typed ? piecesLike(this.pieces, typed).slice(0, MAX_CHOICES).map((one) => this.pieceChoice(one)) : [];
    const buttons = found.slice(0, MAX_CHOICES).map((glass) => this.choice(glass, glass.family ? `${glass.name} · ${glass.family}` : glass.name));
    if (typed && !found.some((glass) => glass.name.toLowerCase() === typed.toLowerCase())) buttons.push(this.choice({ key: null, name: typed }, `Not listed: call it “${typed}”`));
    at("choices").replaceChildren(...[...pieces, ...buttons].map((button) => make("li", {}, button)));
    at("search-count").textContent = typed ? `${found.length} found${found.length > MAX_CHOICES ? `, ${MAX_CHOICES} shown` : ""}` : "";
  }

  /** One chosen glass: letter and name, whether it is a piece of a find, and the way to take it out again. */
  row(glass, place) {
    if (glass.pieceId) return this.pieceRow(glass, place);
    const id = `piece-${LETTERS[place]}`;
    const tick = make("input", { type: "checkbox", checked: glass.piece !== null });
    const label = make("input", { id, maxLength: 80, value: glass.piece ?? "", autocomplete: "off" });
    const part = make("div", { hidden: glass.piece === null }, make("label", { htmlFor: id, textContent: "Find number or label" }), label);
    tick.addEventListener("change", () => {
      glass.piece = tick.checked ? label.value : null;
      part.hidden = !tick.checked;
      this.onChange();
    });
    label.addEventListener("input", () => (glass.piece = label.value));
    return make("li", {}, this.head(glass.name, place), make("label", { className: "tick" }, tick, make("span", { textContent: "A piece of a find, taken for this glass" })), part);
  }

  head(name, place) {
    const away = make("button", { type: "button", className: "quiet", textContent: "Take out" });
    away.setAttribute("aria-label", `Take out glass ${LETTERS[place]}`);
    away.addEventListener("click", () => this.remove(place));
    return make("div", { className: "glass-head" }, make("span", { className: "letter", textContent: LETTERS[place] }), make("strong", { textContent: name }), away);
  }

  /** A piece of the ledger: what of it is used up is asked, for the ledger. */
  pieceRow(glass, place) {
    const id = `mass-${LETTERS[place]}`;
    const mass = make("input", { id, maxLength: 12, inputMode: "decimal", value: glass.mass ?? "", autocomplete: "off" });
    mass.addEventListener("input", () => {
      glass.mass = mass.value;
      this.onChange();
    });
    const field = make("div", { className: "with-unit short" }, mass, make("span", { className: "unit", textContent: "g" }));
    return make("li", {}, this.head(glass.piece, place), make("label", { htmlFor: id, textContent: "Mass that is used up" }), field);
  }

  show() {
    const isFull = this.chosen.length >= this.most;
    at("glass-rows").replaceChildren(...this.chosen.map((glass, place) => this.row(glass, place)));
    at("choose").hidden = isFull || !this.isOpen;
    at("add-glass").hidden = isFull || this.isOpen;
    at("search-label").textContent = `Glass ${LETTERS[this.chosen.length] ?? ""}: look it up`;
    const taken = new Set(this.chosen.map((glass) => glass.key ?? glass.name));
    const quick = quickFrom(this.used, this.known, 12).filter((glass) => !taken.has(glass.key ?? glass.name));
    at("chips").replaceChildren(...quick.slice(0, 4).map((glass) => this.choice(glass)));
    this.offer();
  }
}
