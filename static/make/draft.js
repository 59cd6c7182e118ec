// What was typed into a form of making, and what was kept of it: both stay through a reload and Back, until this tab is closed.
import { at } from "../web/parts.js";

const KEY = `isokom-draft-${location.pathname}${location.search}`;

function read() {
  try {
    return JSON.parse(sessionStorage.getItem(KEY)) ?? {};
  } catch {
    return {}; // a browser that keeps nothing: the form begins empty
  }
}

function write(draft) {
  try {
    sessionStorage.setItem(KEY, JSON.stringify(draft));
  } catch (error) {
    console.warn("what is typed here does not outlive a reload:", error.message);
  }
}

/** Made when the form stands as it begins. Its fields are taken in their order, so a page whose parts can be added gives add(), which adds one. */
export class Draft {
  constructor(form, add = () => {}) {
    Object.assign(this, { form, add });
    this.first = this.told();
    at("empty").addEventListener("click", () => this.empty());
  }

  fields() {
    return [...this.form.querySelectorAll("input:not([type=search]), select, textarea")];
  }

  values() {
    return this.fields().map((field) => (["radio", "checkbox"].includes(field.type) ? field.checked : field.value));
  }

  told() {
    return JSON.stringify(this.values());
  }

  /** Fill in what was typed before, where it fits this form. */
  restore() {
    const { values = [] } = read();
    for (let before = -1; this.fields().length < values.length && this.fields().length > before; ) {
      before = this.fields().length;
      this.add();
    }
    if (this.fields().length !== values.length) return;
    this.fields().forEach((field, i) => (field[typeof values[i] === "boolean" ? "checked" : "value"] = values[i]));
  }

  save() {
    at("empty").hidden = this.told() === this.first;
    write({ ...read(), values: this.values() });
  }

  /** What was kept of an answer: [{id, body}]. */
  kept(answer) {
    return read().kept?.[answer] ?? [];
  }

  keep(answer, made) {
    const draft = read();
    write({ ...draft, kept: { ...draft.kept, [answer]: made } });
  }

  empty() {
    sessionStorage.removeItem(KEY);
    location.reload();
  }
}
