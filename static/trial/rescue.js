// Entries that the store refused: held in memory and in localStorage, tried again until they are in. Never dropped.
import { Behind, NotKept, record } from "../web/outbox.js";

const EVERY_MS = 2000;

/** Holder for one trial. onStored(held, entry) is called for each that got in at last. */
export function rescueFor(trialId, onStored) {
  const place = `isokom-rescue:${trialId}`;
  let held = JSON.parse(localStorage.getItem(place) ?? "[]");
  let isTrying = false;

  function keepCopy() {
    try {
      if (held.length) localStorage.setItem(place, JSON.stringify(held));
      else localStorage.removeItem(place);
    } catch (error) {
      console.warn("no copy beside the store:", error.name); // it stays in memory and on the screen
    }
  }

  async function again(draft) {
    const { kind, subject, body, ...marks } = draft;
    try {
      return await record(kind, subject, body, marks);
    } catch (error) {
      if (!(error instanceof Behind)) throw error;
      return record(kind, subject, body, { ...marks, n: null });
    }
  }

  async function tryAll() {
    if (isTrying) return;
    isTrying = true;
    try {
      while (held.length) {
        const entry = await again(held[0]);
        const stored = held.shift();
        keepCopy();
        onStored(stored, entry);
      }
    } catch (error) {
      if (!(error instanceof NotKept)) throw error;
    } finally {
      isTrying = false;
    }
  }

  setInterval(tryAll, EVERY_MS);
  return {
    held: () => held,
    hold(draft) {
      held = [...held, draft];
      keepCopy();
    },
  };
}
