// The entries of a measured test -> how it stands, for display. Same rule as server/measure/log.py; a test holds both together.
import { bySubject, localEntries } from "../web/merged.js";

export const LETTERS = "ABCDEFGHIJKL"; // of the glasses, in their order
export const STATUS_WORDS = { running: "not kept yet", kept: "kept", stopped: "stopped", incomplete: "its start is missing" };
export const NAMES = { pull: "Pull test", thread: "Thread test", fuse: "Fuse test", strip: "Strip test" };

function inOrder(entries) {
  const once = [...new Map(entries.map((entry) => [entry.id, entry])).values()];
  return once.sort((a, b) => a.n - b.n || a.at_ms - b.at_ms || (a.id < b.id ? -1 : 1));
}

function statusOf(kinds) {
  if (!kinds.has("started")) return "incomplete";
  if (kinds.has("abandoned")) return "stopped";
  return kinds.has("kept") ? "kept" : "running";
}

function historyOf(sorted) {
  const history = new Map();
  for (const { kind, body, at_ms, id } of sorted) {
    if (kind !== "measure.read") continue;
    const place = `${body.place}/${body.quantity}`;
    history.set(place, [...(history.get(place) ?? []), { said: body.value ?? (body.word || null), at_ms, id, why: body.why ?? "" }]);
  }
  return history;
}

/** {id, status, test, title, glasses, setup, readings, history, notes, photos, reason, started_ms, session, dishes, isCovered}; readings by "place/quantity", the latest of each. */
export function measuredFrom(entries) {
  const sorted = inOrder(entries);
  const ofKind = (kind) => sorted.filter((entry) => entry.kind === `measure.${kind}`);
  const start = ofKind("started")[0];
  const history = historyOf(sorted);
  const latest = [...history].map(([place, all]) => [place, all.at(-1).said]);
  const dishes = start?.body.dishes ?? [];
  const laid = dishes.filter(({ place }) => place).map(({ place, letter }) => [`${place}/glass`, letter]); // as the session's plan has it
  return {
    id: sorted[0]?.subject ?? null,
    status: statusOf(new Set(sorted.map((entry) => entry.kind.split(".")[1]))),
    test: start?.body.test ?? null,
    title: start?.body.title ?? "",
    glasses: start?.body.glasses ?? [],
    setup: start?.body.setup ?? {},
    readings: new Map([...laid, ...latest.filter(([_place, value]) => value !== null)]),
    history,
    notes: ofKind("noted").map((entry) => entry.body.text),
    photos: ofKind("photo").map(({ id, body }) => ({ entry: id, ...body })),
    reason: ofKind("abandoned")[0]?.body.reason ?? null,
    started_ms: start?.at_ms ?? null,
    session: start?.body.session ?? null,
    dishes,
    isCovered: false,
  };
}

export function glassWords({ name, piece }) {
  return piece && piece !== name ? `${piece} (taken for ${name})` : name;
}

/** What a person would call the test. */
export function nameOf({ test, title, glasses }) {
  if (!test) return "A test whose start is missing";
  return title || `${NAMES[test]} of ${glasses.slice(0, 3).map(glassWords).join(" and ")}${glasses.length > 3 ? " …" : ""}`;
}

/** Every test on this tablet, newest first, each with `mark`: refused, waiting or sent. */
export async function everyTest() {
  const groups = bySubject(await localEntries("measure"));
  const tests = [...groups.values()].map((entries) => ({
    ...measuredFrom(entries),
    mark: ["refused", "waiting"].find((state) => entries.some((entry) => entry.state === state)) ?? "sent",
    newest: entries.reduce((a, entry) => (entry.id > a ? entry.id : a), ""),
  }));
  return tests.sort((a, b) => (a.newest < b.newest ? 1 : -1));
}
