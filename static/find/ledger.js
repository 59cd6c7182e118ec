// What became of every gram of a find. Pure; the twin of server/find/ledger.py (the rule stands there), and a test holds both together.
// All sums run in whole micrograms: start = left + cut off + used + lost + returned + unaccounted, always and to the last figure.
import { said } from "../web/latest.js";
import { against } from "./sentences.js";
import { consentOf, numbers, Statements, toldOf, unsettled } from "./statements.js";

const ACTS = { "piece.weighed": "weighed", "piece.cut": "cut", "piece.used": "used", "piece.lost": "lost", "piece.returned": "returned" };
const SUMS = ["start", "cut", "used", "lost", "returned", "unaccounted", "over"];
const UG_PER_G = 1_000_000;

/** Nothing is planned. */
export const NOTHING = { of: () => 0 };

const micrograms = (mass_g) => Math.floor(mass_g * UG_PER_G + 0.5);
const sumG = (masses) => masses.reduce((sum, mass_g) => sum + micrograms(mass_g), 0) / UG_PER_G;

/** The running sums of one piece, in µg. */
class Book {
  constructor() {
    for (const name of SUMS) this[name] = 0;
    Object.assign(this, { left: 0, known: false, weighed: false, u_g: null, parent: null, rows: [] });
  }

  weigh(mass) {
    const missing = this.known ? this.left - mass : 0;
    if (!this.known) this.start += mass;
    Object.assign(this, { left: mass, known: true, weighed: true });
    this.unaccounted += missing;
    return missing;
  }

  come(mass, parent) {
    if (!this.known) this.parent ??= parent;
    this.start += mass;
    this.left += mass;
    this.known = true;
  }

  take(column, mass) {
    const over = Math.max(0, mass - this.left);
    this.left -= mass - over;
    this[column] += mass;
    this.unaccounted -= over;
    this.over += over;
    return over;
  }
}

/** Each entry of a find or piece once, by the wall clock; ids of one device rise by themselves. */
function inOrder(entries) {
  const mine = entries.filter(({ kind }) => kind.startsWith("find.") || kind.startsWith("piece."));
  const once = [...new Map(mine.map((entry) => [entry.id, entry])).values()];
  return once.sort((a, b) => a.at_ms - b.at_ms || (a.id < b.id ? -1 : a.id > b.id ? 1 : 0));
}

const keyOf = (subject, id) => `${subject} ${id}`;

function rowOf({ id, subject, at_ms, body }, act, change, book, { over = 0, missing = 0 }, undone, other) {
  const key = keyOf(subject, id);
  return {
    entry: id,
    at_ms,
    act,
    mass_g: body.mass_g,
    change_g: change / UG_PER_G,
    left_g: book.known ? book.left / UG_PER_G : null,
    over_g: over / UG_PER_G,
    unaccounted_g: missing / UG_PER_G,
    u_g: body.u_g ?? null,
    test: body.test ?? null,
    trial: body.trial ?? null,
    other,
    words: body.why ?? body.to ?? "",
    struck: undone.has(key),
    why: undone.get(key) ?? "",
  };
}

function bookOf(books, id) {
  if (!books.has(id)) books.set(id, new Book());
  return books.get(id);
}

function act(books, entry, undone) {
  const { body, subject } = entry;
  const what = ACTS[entry.kind];
  const counts = !undone.has(keyOf(subject, entry.id));
  const mass = counts ? micrograms(body.mass_g) : 0;
  const book = bookOf(books, subject);
  const before = book.left;
  const found = {};
  if (counts && what === "weighed") {
    found.missing = book.weigh(mass);
    book.u_g = body.u_g;
  } else if (counts) found.over = book.take(what, mass);
  book.rows.push(rowOf(entry, what, book.left - before, book, found, undone, body.into ?? null));
  if (what !== "cut") return;
  const child = bookOf(books, body.into);
  if (counts) child.come(mass, subject);
  child.rows.push(rowOf(entry, "came", mass, child, {}, undone, subject));
}

function rootOf(books, id) {
  const seen = new Set([id]);
  for (let parent = books.get(id)?.parent; parent && !seen.has(parent); parent = books.get(id)?.parent) {
    seen.add(parent);
    id = parent;
  }
  return id;
}

function pieceOf(id, stated, books, photos) {
  const book = books.get(id) ?? new Book();
  const sums = Object.fromEntries(SUMS.map((name) => [`${name}_g`, book[name] / UG_PER_G]));
  const left_g = book.known ? book.left / UG_PER_G : null;
  const about = { facts: said(stated.at(-1)), facts_latest: numbers(stated), unsettled: unsettled({ facts: stated }) };
  return { id, photos, rows: book.rows, ...sums, left_g, weighed: book.weighed, u_g: book.u_g, root: rootOf(books, id), ...about };
}

function findOf(id, facts, consents, pieces) {
  const [stated, agreed] = [facts.latest(id), consents.latest(id)];
  const own = pieces.filter((piece) => piece.facts.find === id);
  const ids = new Set(own.map((piece) => piece.id));
  const moved_g = sumG(own.flatMap((piece) => piece.rows.filter((row) => row.act === "came" && ids.has(row.other)).map((row) => row.change_g)));
  const known = own.map((piece) => piece.left_g).filter((left_g) => left_g !== null);
  return {
    id,
    facts: said(stated.at(-1)),
    consents: (consents.every.get(id) ?? []).map(toldOf),
    consent: consentOf(agreed),
    start_g: sumG([...own.map((piece) => piece.start_g), -moved_g]),
    left_g: known.length ? sumG(known) : null,
    gone_g: sumG(own.flatMap((piece) => [piece.used_g, piece.lost_g])),
    over_g: sumG(own.map((piece) => piece.over_g)),
    facts_latest: numbers(stated),
    consent_latest: numbers(agreed),
    unsettled: unsettled({ facts: stated, consent: agreed }),
  };
}

function push(map, key, value) {
  map.set(key, [...(map.get(key) ?? []), value]);
}

function undoneIn(ordered) {
  const undone = new Map();
  for (const { kind, subject, body } of ordered) {
    if (kind === "piece.undone" && !undone.has(keyOf(subject, body.entry))) undone.set(keyOf(subject, body.entry), body.why);
  }
  return undone;
}

/**
 * The finds and pieces that these entries (find.*, piece.*) describe: {finds, pieces}, in the order in which they were opened and added.
 * find: {id, facts, consents, consent (what counts of them, or null), start_g, left_g | null, gone_g (used and lost), over_g,
 *        facts_latest, consent_latest (numbers of the statements that a new one comes after), unsettled (of "facts" and "consent", where these say different things)}
 * piece: {id, facts, photos, rows, start_g, left_g | null (never weighed), cut_g, used_g, lost_g, returned_g, unaccounted_g, over_g, weighed, u_g, root, facts_latest, unsettled}
 * row: {entry, at_ms, act, mass_g, change_g, left_g, over_g, unaccounted_g, u_g, test, trial, other, words, struck, why}
 * A piece or find whose facts have not arrived is left out, and so are entries of other kinds.
 */
export function findsFrom(entries) {
  const ordered = inOrder(entries);
  const undone = undoneIn(ordered);
  const [facts, consents, photos, books] = [{ find: new Statements(), piece: new Statements() }, new Statements(), new Map(), new Map()];
  for (const entry of ordered) {
    const [domain, what] = entry.kind.split(".");
    if (["opened", "added", "changed"].includes(what)) facts[domain].add(entry);
    else if (what === "consent") consents.add(entry);
    else if (what === "photo" && !undone.has(keyOf(entry.subject, entry.id))) push(photos, entry.subject, toldOf(entry));
    else if (entry.kind in ACTS) act(books, entry, undone);
  }
  const pieces = [...facts.piece.every.keys()].map((id) => pieceOf(id, facts.piece.latest(id), books, photos.get(id) ?? []));
  const finds = [...facts.find.every.keys()].map((id) => findOf(id, facts.find, consents, pieces));
  return { finds, pieces };
}

/** Used and lost of some pieces, and what open sessions want of them (`reserved.of(id)`), both in g. */
export function goneOf(pieces, reserved = NOTHING) {
  return { gone_g: sumG(pieces.flatMap((one) => [one.used_g, one.lost_g])), planned_g: sumG(pieces.map((one) => reserved.of(one.id))) };
}

/**
 * Plain sentences that stand against using `mass_g` of a piece in a test ("flame", "fuse", "strip", "pull", "thread"); [] where nothing does.
 * `find` may be null where it is not known, `pieces` are all pieces, `mass_g` null asks before the mass is known, `today` is "2026-11-25",
 * `reserved` = {of(pieceId): g that open sessions want of it}.
 */
export function againstUse(find, pieces, piece, mass_g, test, today, reserved = NOTHING) {
  const own = pieces.filter((one) => one.facts.find === piece.facts.find);
  const [whole, family] = [goneOf(own, reserved), goneOf(own.filter((one) => one.root === piece.root), reserved)];
  const gone = { find: whole.gone_g, piece: family.gone_g };
  const planned = { find: whole.planned_g, piece: family.planned_g, alone: goneOf([piece], reserved).planned_g };
  return against(find?.facts ?? null, find?.consent ?? null, gone, planned, piece.left_g, mass_g, test, today);
}
