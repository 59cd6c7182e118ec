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

function consentSentences(consent, test) {
  if (!consent) return ["The keeper has not been asked about tests that use the find up."];
  const day = consent.on ? ` on ${consent.on}` : "";
  if (consent.state === "asked") return [`The keeper was asked${day} and has not answered yet.`];
  if (consent.state === "refused") return [`The keeper refused tests that use the find up${day}.`];
  return consent.tests.includes(test) ? [] : [`The keeper's consent does not name the ${TEST_WORDS[test]}.`];
}

function limitSentences(consent, gone_g, mass_g) {
  const said = [];
  for (const [name, limit, words] of [["find", "limit_g", "the whole find"], ["piece", "limit_piece_g", "this piece and what was cut off it"]]) {
    const total_g = Math.floor((gone_g[name] + mass_g) * 1e6 + 0.5) / 1e6;
    if (consent[limit] !== null && total_g > consent[limit]) {
      said.push(`With this, ${grams(total_g)} g of ${words} would be used up or lost; the keeper allows ${grams(consent[limit])} g.`);
    }
  }
  return said;
}

function leftSentences(left_g, mass_g) {
  if (left_g === null) return ["This piece was never weighed."];
  if (left_g === 0) return ["Nothing is left of this piece."];
  if (mass_g !== null && Math.floor(mass_g * 1e6 + 0.5) > Math.floor(left_g * 1e6 + 0.5)) {
    return [`${grams(mass_g)} g is more than the ${grams(left_g)} g that is left.`];
  }
  return [];
}

/** The sentences; `facts` of the find are null where it is not known. `gone_g` is used and lost so far, {find, piece}, in g. */
export function against(facts, consent, gone_g, left_g, mass_g, test, today) {
  if (!facts) return ["The find of this piece is not known here, so neither is the keeper's consent.", ...leftSentences(left_g, mass_g)];
  const said = consentSentences(consent, test);
  if (consent?.state === "given" && mass_g !== null) said.push(...limitSentences(consent, gone_g, mass_g));
  said.push(...leftSentences(left_g, mass_g));
  if (facts.due && facts.due < today) said.push(`The loan was due back on ${facts.due}.`);
  return said;
}
