// Choosing a glass by typing part of its name.
import { plain, queryWords } from "../web/search.js";

const OFFERS = 30;

function button(glass, take) {
  const made = Object.assign(document.createElement("button"), { type: "button", textContent: glass.name });
  made.append(Object.assign(document.createElement("small"), { textContent: [glass.family, glass.short].filter(Boolean).join(" · ") }));
  made.addEventListener("click", take);
  const item = document.createElement("li");
  item.append(made);
  return item;
}

/** The search field of one glass in a `.pick`: typing offers, choosing fills the hidden field and calls onTake(). `glasses` as data.js allGlasses() gives them. */
export class Pick {
  constructor(place, glasses, onTake) {
    Object.assign(this, { glasses, onTake });
    this.side = place.dataset.side;
    this.label = place.querySelector("label");
    this.box = place.querySelector("input[type=search]");
    this.field = place.querySelector("input[type=hidden]");
    this.list = place.querySelector("ul");
    this.box.addEventListener("input", () => this.offer());
    this.box.addEventListener("focus", () => this.box.select());
    this.box.addEventListener("change", (event) => event.stopPropagation());
    this.box.addEventListener("blur", () => setTimeout(() => document.activeElement === this.box || this.leave(), 250)); // back in the field by then: someone is typing
    this.box.addEventListener("keydown", (event) => this.key(event));
  }

  set(key) {
    this.field.value = key;
    this.box.value = this.glasses.find((glass) => glass.key === key)?.name ?? key;
    this.list.hidden = true;
  }

  /** Show what the field holds, filled in by another; a glass that is not known is none. */
  again() {
    this.set(this.glasses.some(({ key }) => key === this.field.value) ? this.field.value : "");
  }

  offer() {
    const words = queryWords(this.box.value);
    const matching = words.length ? this.glasses.filter((g) => words.every((word) => g.words.includes(word))) : [];
    const isWhole = ({ name }) => ` ${plain(name)} `.includes(` ${words.join(" ")} `); // "1 wt% CuO" before "0.1 wt% CuO"
    const found = [...matching.filter(isWhole), ...matching.filter((one) => !isWhole(one))].slice(0, OFFERS);
    this.list.hidden = found.length === 0;
    this.list.replaceChildren(...found.map((glass) => button(glass, () => this.take(glass.key))));
  }

  take(key) {
    this.set(key);
    this.onTake();
  }

  key(event) {
    if (event.key === "Escape") this.leave();
    if (event.key !== "Enter") return;
    event.preventDefault();
    this.list.querySelector("button")?.click();
  }

  /** Left without a choice: the field shows again what holds. */
  leave() {
    if (this.list.contains(document.activeElement)) return;
    this.set(this.field.value);
  }
}
