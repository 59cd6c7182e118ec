// What stands against using a piece, in words; the twin of server/find/sentences.py.
export const TEST_WORDS = { flame: "flame test", fuse: "fuse test", strip: "strip test", pull: "pull test", thread: "thread test" };
const UNITS_PER_G = 10_000; // masses are said to 0.1 mg

/** A mass in g as it is said, to 0.1 mg, without idle zeros: "2.5", "0.0371"; a true minus sign. */
export function grams(mass_g) {
  const units = Math.floor(Math.abs(mass_g) * UNITS_PER_G + 0.5);
  const rest = String(units % UNITS_PER_G).padStart(4, "0").replace(/0+$/, "");
  const text = `${Math.floor(units / UNITS_PER_G)}${rest ? `.${rest}` : ""}`;
  return mass_g < 0 && units ? `−${text}` : text;
}

const micro = (mass_g) => Math.floor(mass_g * 1e6 + 0.5);

/** What open sessions have planned of a mass, as it stands behind that mass; "" for nothing. */
export function plannedWords(planned_g) {
  return planned_g > 0 ? `, of which ${grams(planned_g)} g are planned in an open session` : "";
}

/** What forbids the test; `facts` of the find are null where it is not known. */
export function consentSentences(facts, consent, test) {
  if (!facts) return ["The find of this piece is not known here, so neither is the keeper's consent."];
  if (!consent) return ["The keeper has not been asked about tests that use the find up."];
  const day = consent.on ? ` on ${consent.on}` : "";
  if (consent.state === "asked") return [`The keeper was asked${day} and has not answered yet.`];
  if (consent.state === "refused") return [`The keeper refused tests that use the find up${day}.`];
  return consent.tests.includes(test) ? [] : [`The keeper's consent does not name the ${TEST_WORDS[test]}.`];
}

/** Whether what is gone (used or lost), this mass and what is planned keep within a limit (or null), all in g. */
export function limitSentences(words, limit_g, gone_g, mass_g, planned_g) {
  const total_g = micro(gone_g + mass_g + planned_g) / 1e6;
  if (limit_g === null || total_g <= limit_g) return [];
  return [`With this, ${grams(total_g)} g of ${words} would be used up or lost${plannedWords(planned_g)}; the keeper allows ${grams(limit_g)} g.`];
}

/** Whether a piece has so much left beside what is planned of it, all in g; `mass_g` null asks before the mass is known. */
export function leftSentences(left_g, mass_g, planned_g) {
  if (left_g === null) return ["This piece was never weighed."];
  if (left_g === 0) return ["Nothing is left of this piece."];
  const [left, planned] = [micro(left_g), micro(planned_g)];
  if (mass_g === null) return 0 < left && left <= planned ? [`${grams(left_g)} g is left${plannedWords(planned_g)}.`] : [];
  if (micro(mass_g) <= left - planned) return [];
  if (planned > 0) return [`${grams(mass_g)} g is more than is free of the ${grams(left_g)} g that is left${plannedWords(planned_g)}.`];
  return [`${grams(mass_g)} g is more than the ${grams(left_g)} g that is left.`];
}

/** Whether the loan is overdue on a day as 2026-11-25. */
export function dueSentences(facts, today) {
  return facts?.due && facts.due < today ? [`The loan was due back on ${facts.due}.`] : [];
}

const LIMITS = [["find", "limit_g", "the whole find"], ["piece", "limit_piece_g", "this piece and what was cut off it"]];

/**
 * All of these. `gone_g` is used and lost so far, `planned_g` what open sessions have planned, both {find, piece (with what was cut off it)} in g;
 * `planned_g` also of the piece `alone`.
 */
export function against(facts, consent, gone_g, planned_g, left_g, mass_g, test, today) {
  const said = consentSentences(facts, consent, test);
  if (facts && consent?.state === "given" && mass_g !== null) {
    for (const [name, limit, words] of LIMITS) said.push(...limitSentences(words, consent[limit], gone_g[name], mass_g, planned_g[name]));
  }
  return [...said, ...leftSentences(left_g, mass_g, planned_g.alone), ...dueSentences(facts, today)];
}
