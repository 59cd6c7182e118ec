// Entries of this trial that the store refused: held in memory and beside the store, tried again until they are in. Never dropped.
import { hold, recordAgain } from "../web/again.js";
import { heldOf } from "../web/held.js";
import { NotKept } from "../web/outbox.js";

const EVERY_MS = 2000;

class Rescue {
  constructor(trialId, onStored) {
    this.trialId = trialId;
    this.onStored = onStored;
    this.waiting = heldOf(trialId);
    this.isTrying = false;
  }

  held() {
    return this.waiting;
  }

  hold(draft) {
    this.waiting = [...this.waiting, draft];
    hold(this.trialId, this.waiting);
  }

  async tryAll() {
    if (this.isTrying) return;
    this.isTrying = true;
    try {
      while (this.waiting.length) {
        const entry = await recordAgain(this.waiting[0]);
        const stored = this.waiting.shift();
        hold(this.trialId, this.waiting);
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
