// Readings on their way to the store: said when the hand leaves the field or taps a step; a copy beside it at once, an entry a moment after the last touch. Never dropped.
import { hold } from "../web/again.js";
import { NotKept, entriesOf, newId, record } from "../web/outbox.js";
import { measuredFrom } from "./tests.js";

const PAUSE_MS = 600;
const AGAIN_MS = 2000;

function bodyOf({ place, quantity, said, why }) {
  const isNumber = typeof said === "number";
  return { place, quantity, value: isNumber ? said : null, word: isNumber ? null : (said ?? ""), ...(why ? { why } : {}) };
}

/** Writer of one test's readings. onTrouble(sentence or "") when the store refuses, or no longer does. */
export class Keeper {
  constructor(testId, onTrouble) {
    this.testId = testId;
    this.place = `isokom-measure-draft:${testId}`;
    this.waiting = new Map(Object.entries(JSON.parse(localStorage.getItem(this.place) ?? "{}")));
    this.onTrouble = onTrouble;
    this.queue = Promise.resolve();
    window.addEventListener("pagehide", () => this.flush());
    document.addEventListener("visibilitychange", () => document.visibilityState === "hidden" && this.flush());
  }

  /** What is on its way: a Map of "place/quantity" -> said. */
  said() {
    return new Map([...this.waiting].map(([place, draft]) => [place, draft.said]));
  }

  /** A reading as it stands now; null takes it back. It is written when the hand rests. */
  set(place, quantity, said, why = "") {
    this.waiting.set(`${place}/${quantity}`, { id: newId(), at_ms: Date.now(), place, quantity, said, why });
    this.copy();
    clearTimeout(this.timer);
    this.timer = setTimeout(() => this.flush(), PAUSE_MS);
  }

  copy() {
    try {
      if (this.waiting.size) localStorage.setItem(this.place, JSON.stringify(Object.fromEntries(this.waiting)));
      else localStorage.removeItem(this.place);
    } catch (error) {
      console.warn("no copy beside the store:", error.name); // it stays in memory and on the screen
    }
  }

  // As entries beside the store, so that other pages know of them and a file has them.
  async holdAll() {
    const next = Math.max(-1, ...(await entriesOf(this.testId).catch(() => [])).map(({ n }) => n)) + 1;
    hold(this.testId, [...this.waiting.values()].map((draft, i) => ({ id: draft.id, kind: "measure.read", subject: this.testId, n: next + i, at_ms: draft.at_ms, body: bodyOf(draft) })));
  }

  /** Write all that waits now. Resolves when it is on disk, or refused. */
  flush() {
    clearTimeout(this.timer);
    this.queue = this.queue.then(() => this.writeAll());
    return this.queue;
  }

  async writeAll() {
    try {
      const stored = this.waiting.size ? measuredFrom(await entriesOf(this.testId)).readings : new Map();
      for (const [place, draft] of [...this.waiting]) {
        const isNew = (stored.get(place) ?? null) !== draft.said; // a value touched and put back is no reading
        if (isNew) await record("measure.read", this.testId, bodyOf(draft), { id: draft.id, at_ms: draft.at_ms });
        if (this.waiting.get(place) === draft) this.waiting.delete(place);
        this.copy();
      }
      hold(this.testId, []);
      this.onTrouble("");
    } catch (error) {
      if (!(error instanceof NotKept)) throw error;
      await this.holdAll();
      this.onTrouble(`${error.message} Your readings stay on this screen; it is tried again by itself.`);
      this.timer = setTimeout(() => this.flush(), AGAIN_MS);
    }
  }
}
