// Pieces of finds that can be used up: what is left of them, and what stands against it. For the pages of trials, sessions and measured tests.
import { plain, queryWords } from "../web/search.js";
import { allFinds, beyond, nameOfFind, piecesByCode, today } from "./finds.js";
import { againstUse } from "./ledger.js";
import { grams } from "./sentences.js";

/** [{piece, find, pieces, name}] of every piece of which something may be left; find is null where it is not known. */
export async function knownPieces() {
  const { finds, pieces } = await allFinds();
  return pieces.filter((piece) => piece.left_g !== 0).map((piece) => {
    const find = finds.find((one) => one.id === piece.facts.find) ?? null;
    return { piece, find, pieces, name: [piece.facts.label, find && nameOfFind(find.facts)].filter(Boolean).join(", ").slice(0, 80) };
  });
}

/** Those whose code it is, else those whose label or find holds every word. */
export function piecesLike(known, typed) {
  const coded = piecesByCode(known.map((one) => one.piece), typed);
  if (coded.length) return known.filter((one) => coded.includes(one.piece));
  const words = queryWords(typed);
  return known.filter((one) => words.every((word) => plain(one.name).includes(word)));
}

/** "MF-3, Site, find 17 · 2.4 g left". */
export function pieceWords({ piece, name }) {
  return `${name} · ${piece.left_g === null ? "never weighed" : `${grams(piece.left_g)} g left`}`;
}

/** {blocks, warns}: what forbids heating so much of a piece, and what speaks against it. */
export function standing({ piece, find, pieces }, mass_g, test) {
  const { consent = null } = find ?? {};
  const hasConsent = consent?.state === "given" && consent.tests.includes(test);
  const said = againstUse(find, pieces, piece, mass_g, test, today());
  const tooMuch = mass_g === null ? "" : beyond(piece, mass_g);
  if (!hasConsent) return { blocks: [said[0], "Record the keeper's answer under Finds first."], warns: said.slice(1) };
  return { blocks: tooMuch ? [tooMuch] : [], warns: tooMuch ? said.slice(0, -1) : said };
}

/** What goes into a setup or a plan. */
export function chosenPiece({ piece, find, name }) {
  return { piece_id: piece.id, piece: name, glass_key: piece.facts.glass_key, glass_name: piece.facts.glass_name, keeper: find?.consent?.by?.slice(0, 120) || null };
}
