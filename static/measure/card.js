// The one thing to do now: a number with its steps, or a choice with its drawings.
import { LETTERS, at, kind, make, numberFrom, said, saidWhole } from "./kind.js";
import { afterPress, doubles } from "../web/press.js";
import { renew } from "./renew.js";

const has = (about) => Object.hasOwn(about, "min");

/**
 * The card's hands: onSaid(said, isSettled) for a reading (null takes it back); onTyping(text, said) while a number is being typed, said undefined where it cannot be
 * taken. A number is said when the hand leaves the field. `draw(quantity, word)` gives a drawing or null.
 */
export class Card {
  constructor({ onSaid, onTyping, draw }) {
    Object.assign(this, { onSaid, onTyping, draw, task: null, isTyped: false, isDouble: doubles() });
    at("task-value").addEventListener("input", () => this.typing());
    for (const left of ["change", "blur"]) at("task-value").addEventListener(left, () => afterPress(() => this.settle()));
    at("less").addEventListener("click", () => this.step(-1));
    at("more").addEventListener("click", () => this.step(1));
  }

  complain(sentence) {
    at("task-error").hidden = !sentence;
    at("task-error").textContent = sentence;
    at("task-value").setAttribute("aria-invalid", String(Boolean(sentence)));
  }

  /** Why the number in the field cannot be taken; "" where it can. */
  wrong() {
    const typed = at("task-value").value.trim();
    if (at("task-number").hidden || !typed) return "";
    const about = kind.quantities[this.task.quantity];
    const value = numberFrom(typed);
    if (value === null) return "This is no number yet; write it like 6,05.";
    const unit = about.unit ? ` ${about.unit}` : "";
    return value < about.min || value > about.max ? `${typed}${unit} cannot be meant: from ${about.min} to ${about.max}${unit} is taken.` : "";
  }

  /** The number in the field; null where it is empty. */
  number() {
    const typed = at("task-value").value.trim();
    return typed ? numberFrom(typed) : null;
  }

  typing() {
    this.isTyped = true;
    this.complain("");
    this.onTyping(at("task-value").value, this.wrong() ? undefined : this.number());
  }

  /** Say what was typed. False where it cannot be meant: then the card holds it, with its complaint. */
  settle() {
    if (!this.task || !this.isTyped) return true;
    const sentence = this.wrong();
    this.complain(sentence);
    if (sentence) return false;
    this.isTyped = false;
    this.onSaid(this.number(), false);
    return true;
  }

  step(way) {
    const sentence = this.wrong();
    if (sentence) return this.complain(sentence);
    const about = kind.quantities[this.task.quantity];
    const now = numberFrom(at("task-value").value);
    const value = now === null ? this.task.from : now + way * about.step;
    const fixed = Number(Math.min(about.max, Math.max(about.min, value)).toFixed(6));
    at("task-value").value = said(this.task.quantity, fixed);
    this.isTyped = false;
    this.complain("");
    return this.onSaid(fixed, false);
  }

  /** Show a task {place, quantity, from, glasses} with its reading and a line of what was read before; `typed` is what was typed and not said yet, or null. */
  show(task, value, before, typed = null) {
    const about = kind.quantities[task.quantity];
    this.task = task;
    this.isTyped = typed !== null;
    at("task-number").hidden = !has(about);
    at("task-words").hidden = has(about);
    at("task-before").textContent = before;
    if (has(about)) this.showNumber(about, value, typed);
    else this.showWords(about, value);
  }

  showNumber(about, value, typed) {
    at("task-label").textContent = about.label;
    at("task-unit").textContent = about.unit;
    at("task-unit").hidden = !about.unit;
    const text = typed ?? (value === undefined || value === null ? "" : said(this.task.quantity, value));
    if (at("task-value").value !== text) at("task-value").value = text;
    this.complain(typed === null ? "" : this.wrong());
    for (const [id, word] of [["less", "less"], ["more", "more"]]) at(id).setAttribute("aria-label", `${about.step} ${about.unit} ${word}`);
  }

  showWords(about, value) {
    at("words-label").textContent = about.label;
    const words = about.letters ? [...LETTERS].slice(0, this.task.glasses.length).map((letter, i) => [letter, this.task.glasses[i].name]) : Object.entries(about.words);
    this.complain("");
    renew(at("word-choices"), ...words.map(([word, label]) => this.choice(word, label, word === value)));
  }

  /** A big choice; touched again it is taken back. */
  choice(word, label, isChosen) {
    const button = make("button", { type: "button", className: "quiet word-choice" });
    const drawing = this.draw(this.task.quantity, word);
    if (drawing) button.append(drawing);
    const isLetter = Boolean(kind.quantities[this.task.quantity].letters);
    button.append(make("span", {}, ...(isLetter ? [make("b", { textContent: word }), ` ${label}`] : [label])));
    button.setAttribute("aria-pressed", String(isChosen));
    button.onclick = ({ currentTarget: touched }) => {
      if (this.isDouble(`${this.task.place}/${this.task.quantity}/${word}`)) return; // it would take back what it has just said
      const isTaken = touched.getAttribute("aria-pressed") === "true";
      for (const other of at("word-choices").children) other.setAttribute("aria-pressed", String(other === touched && !isTaken));
      this.onSaid(isTaken ? null : word, true);
    };
    return button;
  }

  hide() {
    this.task = null;
    this.isTyped = false;
    at("task-number").hidden = at("task-words").hidden = true;
    at("task-before").textContent = "";
    this.complain("");
  }
}

/** What was read there before, as a line: the turned twin, the last value and what it was changed from. */
export function beforeLine(task, readings, history) {
  const about = kind.quantities[task.quantity];
  const parts = [];
  const near = about.near && readings.get(`${task.place}/${about.near}`);
  if (near !== undefined && near) parts.push(`${kind.quantities[about.near].short}: ${saidWhole(about.near, near)}`);
  const earlier = (history.get(`${task.place}/${task.quantity}`) ?? []).slice(0, -1);
  if (earlier.length) parts.push(`Earlier: ${earlier.map((one) => (one.said === null ? "taken back" : saidWhole(task.quantity, one.said))).join(", ")}`);
  return parts.join(" · ");
}
