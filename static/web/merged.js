// Entries of some kinds from the desk and from this tablet, each once, in the order in which they were made.
import { entriesOfDomain, photosOfKind } from "./outbox.js";

const PATIENCE_MS = 5000;

/** What the desk has, as last seen by this tablet: the worker keeps the answer. null where it was never seen. */
export async function askedOfDesk(address) {
  try {
    const answer = await fetch(address, { signal: AbortSignal.timeout(PATIENCE_MS) });
    return answer.ok ? await answer.json() : null;
  } catch (error) {
    console.warn(`nothing from ${address}:`, error.message);
    return null;
  }
}

async function fromDesk(address) {
  return (await askedOfDesk(address))?.entries ?? [];
}

// Several devices may write about one subject, so the wall clock orders; the ids of one device rise by themselves.
function byTime(a, b) {
  return a.at_ms - b.at_ms || (a.id < b.id ? -1 : 1);
}

/** Entries whose kind begins with one of these words and a point, of this tablet only. */
export async function localEntries(...prefixes) {
  return (await Promise.all(prefixes.map((prefix) => entriesOfDomain(prefix)))).flat().sort(byTime);
}

/** The same with those that the desk lists at an address ({entries: […]}). What this tablet made carries `state`. */
export async function mergedEntries(address, ...prefixes) {
  const [desk, local] = await Promise.all([fromDesk(address), localEntries(...prefixes)]);
  return onceEach([...desk, ...local]);
}

/** Entries each once, in the order in which they were made; of two with one id the later in the list stays. */
export function onceEach(entries) {
  return [...new Map(entries.map((entry) => [entry.id, entry])).values()].sort(byTime);
}

/** As mergedEntries(), without the pictures of photos: for what is read again every few seconds. */
export async function mergedLight(address, ...prefixes) {
  const local = prefixes.flatMap((prefix) => [entriesOfDomain(prefix, `${prefix}.photo`), photosOfKind(`${prefix}.photo`)]);
  const [desk, ...found] = await Promise.all([fromDesk(address), ...local]);
  return onceEach([...desk, ...found.flat()]);
}

/** Map of subject -> its entries in their order. */
export function bySubject(entries) {
  const groups = new Map();
  for (const entry of entries) groups.set(entry.subject, [...(groups.get(entry.subject) ?? []), entry]);
  return groups;
}
