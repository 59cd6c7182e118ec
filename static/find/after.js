// What is recorded about finds and pieces, placed after everything that is known of them here: the ledger goes by the clock, and the clocks of two tablets disagree.
import { entriesOfDomain, record } from "../web/outbox.js";

const LOG = "/finds/log.json";
const latest = new Map(); // subject -> ms, of all entries that this page has read

/** Take note of entries that were read, for what is recorded after them. */
export function noteTimes(entries) {
  for (const { subject, at_ms, body } of entries) {
    for (const one of [subject, body.into]) if (one) latest.set(one, Math.max(at_ms, latest.get(one) ?? 0));
  }
}

// The worker keeps the last answer of the desk, and the one from when it was installed. No network is asked.
async function noteKept() {
  for (const name of await caches.keys()) {
    const answer = await (await caches.open(name)).match(LOG);
    if (answer) noteTimes((await answer.json()).entries);
  }
}

async function noteOwn() {
  noteTimes((await Promise.all([entriesOfDomain("find"), entriesOfDomain("piece", "piece.photo")])).flat());
}

/** A moment after now and after everything known here of these subjects, in ms; nothing is asked of the network. */
export async function momentAfter(...subjects) {
  for (const note of [noteOwn, noteKept]) {
    await note().catch((error) => console.warn("earlier entries cannot be read:", error.message)); // what has happened is recorded all the same
  }
  return Math.max(Date.now(), ...subjects.map((one) => (latest.get(one) ?? -1) + 1));
}

/** As record(), after everything known of the subject and of `others`. Throws NotKept. */
export async function recordAfter(kind, subject, body, { others = [], ...options } = {}) {
  return record(kind, subject, body, { ...options, at_ms: await momentAfter(subject, ...others) });
}
