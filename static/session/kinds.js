// What differs between the sessions of the five tests. `grams` is what is usually taken (judgement); `sd` is how much repeats of one glass scatter where nothing is known yet: of ln t or ln viscosity (isRatio), else in `unit`.
// Those of times and threads are judgement; pull, fuse and strip follow from the errors of their readings (server/physics/pull.py, slump.py, strip.py).
const EXPANSION = "× 10⁻⁷/K";

export const KINDS = {
  flame: { grams: 2, mass: "Mass of one run", minutes: 4, what: "times", isRatio: true, sd: 0.1, unit: "%", apart: 20 },
  fuse: { grams: 0.25, mass: "Mass of one chip", minutes: 5, what: "viscosities", isRatio: true, sd: 0.2, unit: "%", apart: 50 },
  strip: { grams: 1, mass: "Mass of the piece", minutes: 20, what: "expansions", isRatio: false, sd: 5, unit: EXPANSION, apart: 10 },
  pull: { grams: 2, mass: "Mass of each glass in one rod", minutes: 15, what: "viscosities", isRatio: true, sd: 0.13, unit: "%", apart: 40 },
  thread: { grams: 1, mass: "Mass of each glass in one thread", minutes: 15, what: "expansions", isRatio: false, sd: 2, unit: EXPANSION, apart: 5 },
};
export const MOST_CHIPS = 24; // on one board, with a free square between
export const MOST_BOARD_GLASSES = 12;

/** True where each glass is tested in one body with the reference. */
export function isAgainst(test) {
  return test === "pull" || test === "thread";
}

/** Why a session of this test cannot be of these glasses; "" where it can. runs: how many there would be. */
export function wrongGlasses(test, glasses, reference, runs) {
  if (isAgainst(test) && reference === null) return "Tick one glass as the reference: each of the others is tested against it.";
  if (isAgainst(test) && glasses[reference]?.piece) return "A known glass is the reference here, not a piece of a find: every run uses some of it.";
  if (test !== "fuse") return "";
  if (reference === null) return "Tick one glass as the reference: the others are read against its chips.";
  if (glasses.length > MOST_BOARD_GLASSES) return `A board takes ${MOST_BOARD_GLASSES} glasses: plan a second session.`;
  return runs > MOST_CHIPS ? `That is ${runs} chips; a board holds ${MOST_CHIPS} with a free square between. Plan a second session.` : "";
}
