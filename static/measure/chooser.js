// The glasses of a test: A, B, C … in the order in which they were chosen, each of them perhaps a piece of a find.
import { everyGlass, matching, quickFrom } from "../web/glasses.js";
import { LETTERS, at, make, oneLine } from "./kind.js";
import { everyTest } from "./tests.js";

const MAX_CHOICES = 8;

/** The list of chosen glasses on the form. onChange() after each change. */
export class Chooser {
  constructor({ fewest, most, onChange }) {
    Object.assign(this, { fewest, most, onChange, chosen: [], known: [], used: [], isOpen: true });
    at("search").addEventListener("input", () => this.offer());
    at("add-glass").addEventListener("click", () => this.open());
  }

  async load() {
    const starts = (await everyTest()).flatMap((test) => test.glasses);
    this.used = starts.filter((glass) => !glass.piece).map(({ key, name }) => ({ key, name }));
    this.show();
    this.known = await everyGlass();
    this.show();
  }

  /** The glasses as an entry carries them. */
  glasses() {
    return this.chosen.map(({ key, name, piece, pieceId }) => ({ key, name, piece_id: pieceId ?? null, piece: piece === null ? null : oneLine(piece) || null, mass_g: null }));
  }

  hasPieces() {
    return this.chosen.some((glass) => glass.piece !== null);
  }

  add({ key, name, piece = null, pieceId = null }) {
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
    const buttons = found.slice(0, MAX_CHOICES).map((glass) => this.choice(glass, glass.family ? `${glass.name} · ${glass.family}` : glass.name));
    if (typed && !found.some((glass) => glass.name.toLowerCase() === typed.toLowerCase())) buttons.push(this.choice({ key: null, name: typed }, `Not listed: call it “${typed}”`));
    at("choices").replaceChildren(...buttons.map((button) => make("li", {}, button)));
    at("search-count").textContent = typed ? `${found.length} found${found.length > MAX_CHOICES ? `, ${MAX_CHOICES} shown` : ""}` : "";
  }

  /** One chosen glass: letter and name, whether it is a piece of a find, and the way to take it out again. */
  row(glass, place) {
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
    const away = make("button", { type: "button", className: "quiet", textContent: "Take out" });
    away.setAttribute("aria-label", `Take out glass ${LETTERS[place]}`);
    away.addEventListener("click", () => this.remove(place));
    const head = make("div", { className: "glass-head" }, make("span", { className: "letter", textContent: LETTERS[place] }), make("strong", { textContent: glass.name }), away);
    return make("li", {}, head, make("label", { className: "tick" }, tick, make("span", { textContent: "A piece of a find, taken for this glass" })), part);
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
