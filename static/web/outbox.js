// Entries that a person made on this tablet: written durably before anything is shown, kept for ever, marked once the desk has them.
import { withDb } from "./db.js";
import { allHeld } from "./held.js";

const STRICT = { durability: "strict" };
const DEVICE = "isokom-device";
const channel = new BroadcastChannel("isokom-entries");
const listeners = new Set();
let lastMs = 0;
let counter = 0;

/** The entry was not stored; `message` is a sentence for a person. */
export class NotKept extends Error {
  name = "NotKept";
}

/** Another tab has written at this place already. */
export class Behind extends NotKept {
  name = "Behind";
}

/** UUIDv7; ids made one after the other sort in that order, also within one millisecond. */
export function newId() {
  const now = Date.now();
  counter = now > lastMs ? Math.floor(Math.random() * 0x800) : counter + 1;
  if (counter > 0xfff) [lastMs, counter] = [lastMs + 1, 0];
  lastMs = Math.max(lastMs, now);
  const time = lastMs.toString(16).padStart(12, "0");
  const rest = [...crypto.getRandomValues(new Uint8Array(8))].map((b) => b.toString(16).padStart(2, "0")).join("");
  const variant = ((parseInt(rest.slice(0, 2), 16) & 0x3f) | 0x80).toString(16);
  const low = counter.toString(16).padStart(3, "0");
  return `${time.slice(0, 8)}-${time.slice(8)}-7${low}-${variant}${rest.slice(2, 4)}-${rest.slice(4)}`;
}

/** This tablet's number, made once. */
export async function deviceId() {
  return withDb(async (db) => {
    const tx = db.transaction("facts", "readwrite", STRICT);
    const found = await deviceIn(tx.objectStore("facts"));
    await tx.done;
    return found;
  });
}

async function deviceIn(facts) {
  const kept = (await facts.get("device")) ?? localStorage.getItem(DEVICE) ?? newId();
  await facts.put(kept, "device");
  localStorage.setItem(DEVICE, kept);
  return kept;
}

async function nextN(entries, subject) {
  const range = IDBKeyRange.bound([subject, 0], [subject, Infinity]);
  const last = await entries.index("place").openKeyCursor(range, "prev");
  return last ? last.key[1] + 1 : 0;
}

async function write(db, draft) {
  const tx = db.transaction(["entries", "facts"], "readwrite", STRICT);
  tx.done.catch(() => {}); // the same failure is thrown below
  const entries = tx.objectStore("entries");
  const earlier = await entries.get(draft.id);
  if (earlier) return earlier; // a repeat after a lost connection
  const device = await deviceIn(tx.objectStore("facts"));
  const n = draft.n ?? (await nextN(entries, draft.subject));
  const row = { ...draft, n, device, state: "waiting", code: "", message: "" };
  await entries.add(row);
  await tx.done;
  return row;
}

function why(error) {
  if (error.name === "ConstraintError") return new Behind("Another tab has recorded here in the meantime. This one was not stored.");
  const cause = error.name === "QuotaExceededError" ? "this device is full" : `this device's store refused it (${error.name})`;
  return new NotKept(`Not stored: ${cause}.`, { cause: error });
}

/** What goes to the desk: the entry without this tablet's own marks. */
export function bare({ id, kind, subject, n, device, at_ms, body }) {
  return { id, kind, subject, n, device, at_ms, body };
}

/** Store one entry; resolves with it once it is on disk. Throws NotKept. `id`, `n` and `at_ms` may be given for a repeat. */
export async function record(kind, subject, body, { at_ms = Date.now(), id = newId(), n = null } = {}) {
  const draft = { id, kind, subject, n, at_ms: Math.round(at_ms), body };
  let row;
  try {
    row = await withDb((db) => write(db, draft));
  } catch (error) {
    throw why(error);
  }
  changed("recorded");
  return bare(row);
}

/** As record(), at place n exactly; throws Behind when another tab was there first. */
export function recordAt(n, kind, subject, body, options = {}) {
  return record(kind, subject, body, { ...options, n });
}

function byPlace(a, b) {
  return a.n - b.n || a.at_ms - b.at_ms || (a.id < b.id ? -1 : 1);
}

/** All entries of a subject in their order, with state, code and message. */
export async function entriesOf(subject) {
  return (await withDb((db) => db.getAllFromIndex("entries", "subject", subject))).sort(byPlace);
}

/** All entries of a kind in the order in which they were made. */
export async function entriesOfKind(kind) {
  return (await withDb((db) => db.getAllFromIndex("entries", "kind", kind))).sort((a, b) => (a.id < b.id ? -1 : 1));
}

/** All entries whose kind begins with this word and a point, in no order. Those of the kind `but` are not read. */
export function entriesOfDomain(prefix, but = null) {
  const [first, end] = [`${prefix}.`, `${prefix}/`]; // "/" comes after "."
  return withDb(async (db) => {
    const whole = [IDBKeyRange.bound(first, end, false, true)];
    const ranges = but === null ? whole : [IDBKeyRange.bound(first, but, false, true), IDBKeyRange.bound(but, end, true, true)];
    const found = await Promise.all(ranges.map((range) => db.getAllFromIndex("entries", "kind", range)));
    return found.flat();
  });
}

const photosSeen = new Map();

/** All entries of a kind that carries a picture (`body.jpeg`), without it; each picture is read once for all. */
export function photosOfKind(kind) {
  return withDb(async (db) => {
    const ids = await db.getAllKeysFromIndex("entries", "kind", kind);
    for (const id of ids.filter((one) => !photosSeen.has(one))) {
      const entry = bare(await db.get("entries", id));
      const { jpeg: _jpeg, ...body } = entry.body;
      photosSeen.set(id, { ...entry, body });
    }
    return ids.map((id) => photosSeen.get(id));
  });
}

/** Every entry on this tablet. */
export function everyEntry() {
  return withDb((db) => db.getAll("entries"));
}

/** Entries that the desk has not confirmed, oldest first. */
export function unsent() {
  return withDb((db) => db.getAllFromIndex("entries", "state", "waiting"));
}

/** Entries that the desk will not take; a person has to look. */
export function refused() {
  return withDb((db) => db.getAllFromIndex("entries", "state", "refused"));
}

/** How many wait, how many were refused by the desk, and how many this tablet's own store refused. */
export function counts() {
  return withDb(async (db) => {
    const [waiting, parked] = await Promise.all(["waiting", "refused"].map((state) => db.countFromIndex("entries", "state", state)));
    return { waiting, refused: parked, held: allHeld().length };
  });
}

async function mark(ids, marks) {
  await withDb(async (db) => {
    const tx = db.transaction("entries", "readwrite", STRICT);
    for (const id of ids) {
      const row = await tx.store.get(id);
      if (row) await tx.store.put({ ...row, ...marks });
    }
    await tx.done;
  });
  changed("marked");
}

/** The desk has these. */
export function markSent(ids) {
  return mark(ids, { state: "sent", code: "", message: "" });
}

/** The desk will not take this one, and why. */
export function markRefused(id, code, message) {
  return mark([id], { state: "refused", code, message });
}

/** A person wants a refused entry offered to the desk again. */
export function markWaiting(ids) {
  return mark(ids, { state: "waiting", code: "", message: "" });
}

/** Everything that was sent is to be offered to the desk again. */
export async function markAllWaiting() {
  const sent = await withDb((db) => db.getAllKeysFromIndex("entries", "state", "sent"));
  if (sent.length) await markWaiting(sent);
}

/** A fact of this tablet, undefined where it was never kept. */
export function fact(name) {
  return withDb((db) => db.get("facts", name));
}

/** Keep a fact of this tablet. */
export async function keepFact(name, value) {
  await withDb(async (db) => {
    const tx = db.transaction("facts", "readwrite", STRICT);
    await tx.store.put(value, name);
    await tx.done;
  });
}

/** Let this and other tabs know. */
export function changed(what) {
  channel.postMessage(what);
  for (const listener of listeners) listener(what);
}

channel.onmessage = (event) => {
  for (const listener of listeners) listener(event.data);
};

/** Call fn("recorded" | "marked" | "held") after a change in this or another tab. */
export function onChange(fn) {
  listeners.add(fn);
  return () => listeners.delete(fn);
}
