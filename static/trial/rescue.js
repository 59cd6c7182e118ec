// Entries that the store refused: held in memory and in localStorage, tried again until they are in. Never dropped.
import { Behind, NotKept, record } from "../web/outbox.js";

const EVERY_MS = 2000;

async function again(draft) {
  const { kind, subject, body, ...marks } = draft;
  try {
    return await record(kind, subject, body, marks);
  } catch (error) {
    if (!(error instanceof Behind)) throw error;
    return record(kind, subject, body, { ...marks, n: null });
  }
}

class Rescue {
  constructor(trialId, onStored) {
    this.place = `isokom-rescue:${trialId}`;
    this.onStored = onStored;
    this.waiting = JSON.parse(localStorage.getItem(this.place) ?? "[]");
    this.isTrying = false;
  }

  held() {
    return this.waiting;
  }

  hold(draft) {
    this.waiting = [...this.waiting, draft];
    this.keepCopy();
  }

  keepCopy() {
    try {
      if (this.waiting.length) localStorage.setItem(this.place, JSON.stringify(this.waiting));
      else localStorage.removeItem(this.place);
    } catch (error) {
      console.warn("no copy beside the store:", error.name); // it stays in memory and on the screen
    }
  }

  async tryAll() {
    if (this.isTrying) return;
    this.isTrying = true;
    try {
      while (this.waiting.length) {
        const entry = await again(this.waiting[0]);
        const stored = this.waiting.shift();
        this.keepCopy();
        this.onStored(stored, entry);
      }
    } catch (error) {
      if (!(error instanceof NotKept)) throw error;
    } finally {
      this.isTrying = false;
    }
  }
}

/** Holder for one trial. onStored(held, entry) is called for each that got in at last. */
export function rescueFor(trialId, onStored) {
  const rescue = new Rescue(trialId, onStored);
  setInterval(() => rescue.tryAll(), EVERY_MS);
  return rescue;
}
