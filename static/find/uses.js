// Pieces of finds that can be used up: what is left of them, and what stands against it. For the pages of trials, sessions and measured tests.
import { plain, queryWords } from "../web/search.js";
import { allFinds, beyond, nameOfFind, piecesByCode, today } from "./finds.js";
import { goneOf, NOTHING } from "./ledger.js";
import { consentSentences, dueSentences, grams, leftSentences, limitSentences, plannedWords } from "./sentences.js";

const UG_PER_G = 1_000_000;
const ASK_FIRST = "Record the keeper's answer under Finds first.";
const inOneLine = new Intl.ListFormat("en-GB", { type: "conjunction" });

/**
 * [{piece, find, pieces, name, reserved}] of every piece of which something may be left; find is null where it is not known.
 * `reserved` = {of(pieceId): g} is what open sessions have planned, from reservedIn(); pieceWords() and standing() then count it.
 */
export async function knownPieces(reserved = NOTHING) {
  const { finds, pieces } = await allFinds();
  return pieces.filter((piece) => piece.left_g !== 0).map((piece) => {
    const find = finds.find((one) => one.id === piece.facts.find) ?? null;
    return { piece, find, pieces, reserved, name: [piece.facts.label, find && nameOfFind(find.facts)].filter(Boolean).join(", ").slice(0, 80) };
  });
}

/** Those whose code it is, else those whose label or find holds every word. */
export function piecesLike(known, typed) {
  const coded = piecesByCode(known.map((one) => one.piece), typed);
  if (coded.length) return known.filter((one) => coded.includes(one.piece));
  const words = queryWords(typed);
  return known.filter((one) => words.every((word) => plain(one.name).includes(word)));
}

/** "MF-3, Site, find 17 · 10 g left, of which 6 g are planned in an open session". */
export function pieceWords({ piece, name, reserved: kept }, reserved = kept ?? NOTHING) {
  return `${name} · ${piece.left_g === null ? "never weighed" : `${grams(piece.left_g)} g left${plannedWords(reserved.of(piece.id))}`}`;
}

/**
 * What open sessions have planned of each piece: {of(pieceId): g}. plans: [{glasses: [{piece_id}], runs: [{glass: its place}], mass_g}].
 * Give only those runs whose use the ledger does not have, or they count twice.
 */
export function reservedIn(plans) {
  const planned = new Map();
  for (const { glasses, runs, mass_g } of plans) {
    for (const id of runs.map((run) => glasses[run.glass]?.piece_id).filter(Boolean)) {
      planned.set(id, (planned.get(id) ?? 0) + Math.round(mass_g * UG_PER_G));
    }
  }
  return { of: (id) => (planned.get(id) ?? 0) / UG_PER_G };
}

function groupsBy(asked, keyOf) {
  const groups = new Map();
  for (const one of asked) groups.set(keyOf(one), [...(groups.get(keyOf(one)) ?? []), one]);
  return [...groups.values()];
}

// Each piece once, with all that is wanted of it; null where no mass is known yet.
function summed(list) {
  return groupsBy(list, ({ one }) => one.piece.id).map((same) => {
    const masses = same.map(({ mass_g }) => mass_g).filter((mass_g) => mass_g !== null);
    return { one: same[0].one, mass_g: masses.length ? totalOf(masses) : null };
  });
}

function totalOf(masses) {
  return masses.reduce((sum, mass_g) => sum + Math.round(mass_g * UG_PER_G), 0) / UG_PER_G;
}

// The limits of one find, over all that is wanted of it together.
function limitsOf(asked, reserved) {
  const { find, piece, pieces } = asked[0].one;
  const known = asked.filter(({ mass_g }) => mass_g !== null);
  const own = pieces.filter((one) => one.facts.find === piece.facts.find);
  const over = (some, of, limit_g, words) => {
    const { gone_g, planned_g } = goneOf(of, reserved);
    return limitSentences(words, limit_g, gone_g, totalOf(some.map(({ mass_g }) => mass_g)), planned_g).map((text) => [some, text]);
  };
  if (!known.length) return [];
  const families = groupsBy(known, ({ one }) => one.piece.root).flatMap((some) => {
    const words = some.length === 1 ? "this piece and what was cut off it" : "what was one piece";
    return over(some, own.filter((one) => one.root === some[0].one.piece.root), find.consent.limit_piece_g, words);
  });
  return [...over(known, own, find.consent.limit_g, "the whole find"), ...families];
}

// [[which of those asked, sentence], …] of one find: what forbids, what speaks against it.
function saidOf(asked, test, reserved) {
  const { find } = asked[0].one;
  const about = (some, sentences) => sentences.map((text) => [some, text]);
  const refused = consentSentences(find?.facts ?? null, find?.consent ?? null, test);
  const found = { blocks: about(asked, refused), warns: refused.length ? [] : limitsOf(asked, reserved) };
  for (const wanted of asked) {
    const { piece } = wanted.one;
    const planned_g = reserved.of(piece.id);
    if (wanted.mass_g === null) found.warns.push(...about([wanted], leftSentences(piece.left_g, null, planned_g)));
    else found.blocks.push(...about([wanted], [beyond(piece, wanted.mass_g, planned_g)].filter(Boolean)));
  }
  found.warns.push(...about(asked, dueSentences(find?.facts ?? null, today())));
  return { ...found, isRefused: refused.length > 0 };
}

function nameOf(some) {
  const [{ one }] = some;
  if (some.length === 1) return one.name;
  const labels = inOneLine.format(some.map((wanted) => wanted.one.piece.facts.label));
  return one.find ? `${labels} of ${nameOfFind(one.find.facts)}` : labels;
}

/**
 * {blocks, warns} for several pieces that are used together: [{one (of knownPieces()), mass_g (all of it, g; null before it is known)}].
 * blocks forbid it: no consent, a test that is not allowed, more than is left, never weighed. warns speak against it: the keeper's limits, an overdue loan.
 * Masses are summed by find and by first piece for the limits, and by piece for what is left. Where there are several pieces a text begins with whose it is.
 */
export function standingTogether(list, test, reserved = list[0]?.one.reserved ?? NOTHING) {
  const asked = summed(list);
  const found = groupsBy(asked, ({ one }) => one.piece.facts.find).map((some) => saidOf(some, test, reserved));
  const told = (pairs) => pairs.map(([some, text]) => (asked.length > 1 ? `${nameOf(some)}: ${text}` : text));
  const blocks = told(found.flatMap((one) => one.blocks));
  const refused = found.filter((one) => one.isRefused).length;
  return { blocks: refused ? [...blocks, ASK_FIRST] : blocks, warns: told(found.flatMap((one) => one.warns)) };
}

/** {blocks, warns}: what forbids heating so much of a piece, and what speaks against it; as standingTogether() of one. */
export function standing(one, mass_g, test, reserved = one.reserved ?? NOTHING) {
  return standingTogether([{ one, mass_g }], test, reserved);
}

/** What goes into a setup or a plan. */
export function chosenPiece({ piece, find, name }) {
  return { piece_id: piece.id, piece: name, glass_key: piece.facts.glass_key, glass_name: piece.facts.glass_name, keeper: find?.consent?.by?.slice(0, 120) || null };
}
