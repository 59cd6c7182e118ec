// Finds and pieces as this tablet knows them: what the desk has and what was recorded here. The door for other parts of Isokom.
import { mergedLight } from "../web/merged.js";
import { entriesOf, newId, NotKept, record } from "../web/outbox.js";
import { findsFrom } from "./ledger.js";
import { grams } from "./sentences.js";

const SIGNS = "ACDEFGHJKMNPRTVWXY34679"; // told apart also in bad light and bad hands: no 0 O Q, 1 I L, 2 Z, 5 S, 8 B, U V
const CODE_LENGTH = 5;

/** {finds, pieces} as findsFrom() gives them, from the desk (or its copy kept here) and this tablet. */
export async function allFinds() {
  return findsFrom(await allEntries());
}

/** The entries behind allFinds(); photos come without their picture. */
export async function allEntries() {
  return mergedLight("/finds/log.json", "find", "piece");
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

/** Sentence that forbids taking this much; "" where it may be taken. No act takes more than is left. */
export function beyond(piece, mass_g) {
  if (piece.left_g === null) return "This piece was never weighed. Weigh it first.";
  return Math.floor(mass_g * 1e6 + 0.5) > Math.floor(piece.left_g * 1e6 + 0.5) ? `That is more than the ${grams(piece.left_g)} g that is left. Weigh the piece again if the scales say otherwise.` : "";
}

/**
 * Record that this much of a piece was used up in a test; resolves with the entry once it is on disk.
 * `trial` (a uuid or null) names the trial; a second call for the same trial and piece records nothing and gives the first entry's id.
 * Throws NotKept, whose message is a sentence, when the piece is not known here, when it is more than is left, or when nothing could be stored.
 * Consent is not asked here, for what has happened must be recorded: ask againstUse() before the test.
 */
export async function recordUse(pieceId, { mass_g, test, trial = null }) {
  const { pieces } = await allFinds();
  const piece = pieces.find((one) => one.id === pieceId);
  if (!piece) throw new NotKept("This piece is not known on this tablet. Nothing was recorded.");
  const earlier = trial && piece.rows.find((row) => row.act === "used" && row.trial === trial && !row.struck);
  if (earlier) return { id: earlier.entry, kind: "piece.used", subject: pieceId, at_ms: earlier.at_ms, body: { mass_g: earlier.mass_g, test: earlier.test, trial } };
  const wrong = beyond(piece, mass_g);
  if (wrong) throw new NotKept(wrong);
  return record("piece.used", pieceId, { mass_g, test, trial });
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
