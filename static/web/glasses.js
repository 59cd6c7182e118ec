// Glasses that can be chosen: the catalogue as last seen from the desk, and own glasses added on this tablet.
import { entriesOfKind } from "./outbox.js";
import { plain, queryWords } from "./search.js";

const PATIENCE_MS = 5000;

async function catalogue() {
  try {
    const answer = await fetch("/glass/names.json", { signal: AbortSignal.timeout(PATIENCE_MS) });
    return answer.ok ? await answer.json() : [];
  } catch (error) {
    console.warn("no catalogue here:", error.message);
    return [];
  }
}

/** [{key, name, family}], own glasses first, each key once. */
export async function everyGlass() {
  const own = (await entriesOfKind("glass.added")).map((entry) => ({ key: entry.subject, name: entry.body.name, family: "own glass" }));
  const known = [...own, ...(await catalogue())];
  return [...new Map(known.map((glass) => [glass.key, glass])).values()];
}

/** Glasses used before, then the known ones, each once, up to `most`. */
export function quickFrom(used, known, most = 4) {
  const once = new Map();
  for (const glass of [...used, ...known]) if (!once.has(glass.key ?? glass.name)) once.set(glass.key ?? glass.name, glass);
  return [...once.values()].slice(0, most);
}

/** Glasses that hold every word that was typed, those that begin with it first. */
export function matching(known, typed) {
  const words = queryWords(typed);
  const fits = (glass) => words.every((word) => plain(`${glass.name} ${glass.family ?? ""}`).includes(word));
  const starts = (glass) => Number(!plain(glass.name).startsWith(words[0] ?? ""));
  return known.filter(fits).sort((a, b) => starts(a) - starts(b) || a.name.localeCompare(b.name));
}
