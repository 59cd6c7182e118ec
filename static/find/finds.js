// Finds and pieces as this tablet knows them: what the desk has and what was recorded here. The door for other parts of Isokom.
import { mergedLight } from "../web/merged.js";
import { entriesOf, entriesOfKind, newId, NotKept, record } from "../web/outbox.js";
import { momentAfter, noteTimes } from "./after.js";
import { findsFrom } from "./ledger.js";
import { grams, plannedWords } from "./sentences.js";

const SIGNS = "ACDEFGHJKMNPRTVWXY34679"; // told apart also in bad light and bad hands: no 0 O Q, 1 I L, 2 Z, 5 S, 8 B, U V
const CODE_LENGTH = 5;

/** {finds, pieces} as findsFrom() gives them, from the desk (or its copy kept here) and this tablet. */
export async function allFinds() {
  return findsFrom(await allEntries());
}

/** The entries behind allFinds(); photos come without their picture. */
export async function allEntries() {
  const entries = await mergedLight("/finds/log.json", "find", "piece");
  noteTimes(entries);
  return entries;
}

/** Today as 2026-11-25, by this tablet's clock. */
export function today(now = new Date()) {
  return new Date(now.getTime() - now.getTimezoneOffset() * 60_000).toISOString().slice(0, 10);
}

/** "Site, find 17": what a person calls a find. */
export function nameOfFind(facts) {
  return [facts.site, `find ${facts.number}`].filter(Boolean).join(", ");
}

/** A short code that no known piece has. */
export function newCode(pieces) {
  const taken = new Set(pieces.map((piece) => piece.facts.code));
  for (;;) {
    const dice = crypto.getRandomValues(new Uint32Array(CODE_LENGTH));
    const code = [...dice].map((number) => SIGNS[number % SIGNS.length]).join("");
    if (!taken.has(code)) return code;
  }
}

/** Pieces with this code as typed or scanned (a label's address counts too). Mostly one; two tablets may have drawn the same. */
export function piecesByCode(pieces, typed) {
  const address = /[?&]p=([0-9a-f-]{36})/.exec(typed);
  if (address) return pieces.filter((piece) => piece.id === address[1]);
  const code = typed.toUpperCase().replace(/[^A-Z0-9]/g, "");
  return code ? pieces.filter((piece) => piece.facts.code === code) : [];
}

/** Sentence that forbids taking this much; "" where it may be taken. No act takes more than is left, and no new plan what open sessions have planned (g). */
export function beyond(piece, mass_g, planned_g = 0) {
  if (piece.left_g === null) return "This piece was never weighed. Weigh it first.";
  const [mass, left, planned] = [mass_g, piece.left_g, planned_g].map((some_g) => Math.floor(some_g * 1e6 + 0.5));
  if (mass <= left - planned) return "";
  if (planned > 0) return `That is more than is free of the ${grams(piece.left_g)} g that is left${plannedWords(planned_g)}.`;
  return `That is more than the ${grams(piece.left_g)} g that is left. Weigh the piece again if the scales say otherwise.`;
}

// One id for one use of one piece in one trial, whatever page or tab records it: the trial's time, and the two numbers mixed (a UUIDv7 by its form).
function useId(trial, pieceId) {
  const [ofTrial, ofPiece] = [trial, pieceId].map((id) => id.replaceAll("-", ""));
  const mixed = [...ofTrial].map((digit, place) => (parseInt(digit, 16) ^ parseInt(ofPiece[place], 16)).toString(16)).join("");
  const variant = "89ab"[parseInt(mixed[16], 16) & 3];
  return `${trial.slice(0, 13)}-7${mixed.slice(13, 16)}-${variant}${mixed.slice(17, 20)}-${mixed.slice(20)}`;
}

async function usesHere() {
  try {
    return await entriesOfKind("piece.used");
  } catch (error) {
    throw new NotKept(`Not stored: this device's store cannot be read (${error.name}).`, { cause: error });
  }
}

/**
 * Record that these uses have happened, as far as this tablet has not recorded them yet; resolves with the entries made now, once they are on disk.
 * uses: [{pieceId, mass_g, test, trial (a uuid or null), at_ms}]. A use is known by its trial and piece, and is not recorded again when a person took it back.
 * `at_ms` is when it happened, for a use that is written down later; without it the use is placed now, after everything known of the piece.
 * Nothing is asked of the network, nor what is left, nor consent, nor whether the piece is known here: what has happened is recorded. Throws NotKept when the store refuses.
 */
export async function recordUses(uses) {
  const here = await usesHere();
  const isHere = ({ pieceId, trial }) => trial && here.some((entry) => entry.subject === pieceId && entry.body.trial === trial);
  const made = [];
  for (const use of uses.filter((one) => !isHere(one))) {
    const { pieceId, mass_g, test, trial = null, at_ms = await momentAfter(pieceId) } = use;
    made.push(await record("piece.used", pieceId, { mass_g, test, trial }, { at_ms, id: trial ? useId(trial, pieceId) : newId() }));
  }
  return made;
}

/** One such use; resolves with its entry, or the earlier one of the same trial and piece. Throws NotKept when nothing could be stored. */
export async function recordUse(pieceId, { mass_g, test, trial = null, at_ms }) {
  const [made] = await recordUses([{ pieceId, mass_g, test, trial, at_ms }]);
  return made ?? (await usesHere()).find((entry) => entry.subject === pieceId && entry.body.trial === trial);
}

/** {name of the entry: address} of pictures of a piece: what this tablet holds itself, the desk's address for the others. */
export async function pictures(piece) {
  const local = new Map((await entriesOf(piece.id)).filter((entry) => entry.kind === "piece.photo").map((entry) => [entry.id, entry.body.jpeg]));
  return new Map(piece.photos.map(({ entry }) => [entry, local.has(entry) ? `data:image/jpeg;base64,${local.get(entry)}` : `/finds/photo/${entry}`]));
}

/** A new piece of a find: facts (without code) -> its id, once it is on disk. Throws NotKept. */
export async function addPiece(facts, pieces) {
  const id = newId();
  await record("piece.added", id, { ...facts, code: newCode(pieces) });
  return id;
}
