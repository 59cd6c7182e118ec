// What goes into a test is gone from its piece: written into the ledger when the test begins, and again when its page opens, until it is there.
import { recordUse } from "../find/finds.js";
import { NotKept } from "../web/outbox.js";
import { coverNow } from "./cover.js";
import { LETTERS, everyTest } from "./tests.js";

async function take(trial, test, { piece_id, piece, name, mass_g }, at_ms) {
  try {
    await recordUse(piece_id, { mass_g, test, trial, at_ms });
    return "";
  } catch (error) {
    if (!(error instanceof NotKept)) throw error;
    return `What is used up of ${piece ?? name} does not stand in its ledger yet. ${error.message} It is tried again when this page opens.`;
  }
}

// What the chips of a glass on a session's board weighed; a chip that was not weighed counts as planned.
function weighed({ dishes, readings }, { mass_g }, letter) {
  const places = dishes.filter((dish) => dish.letter === letter).map(({ place }) => place);
  const sum = places.reduce((all, place) => all + (readings.get(`${place}/mass_g`) ?? mass_g / places.length), 0);
  return Math.round(sum * 1e6) / 1e6;
}

// A session's board is counted when it is through, and not at all where it was stopped before the firing: its chips are still there.
function isSpent({ test, session, status, readings }) {
  if (!session || test !== "fuse") return true;
  return status === "kept" || (status === "stopped" && [...readings.keys()].some((place) => place.includes("_after_")));
}

/** Write what a test uses up of each piece, once. `at_ms` is when it began, where that is past. Resolves to sentences about what could not be written. */
export async function takeFromLedger(testId, measured, at_ms) {
  const { test, session, glasses } = measured;
  const troubles = [];
  const spent = isSpent(measured) ? glasses.map((glass, i) => ({ ...glass, letter: LETTERS[i] })) : [];
  for (const { letter, ...glass } of spent.filter((one) => one.piece_id && one.mass_g !== null)) {
    const mass_g = session && test === "fuse" ? weighed(measured, glass, letter) : glass.mass_g;
    troubles.push(await take(testId, test, { ...glass, mass_g }, at_ms));
  }
  return troubles.filter(Boolean);
}

/** The same for every test on this tablet. One of a covered session is left until that ends: a ledger that followed dish by dish would tell what lay in them. */
export async function takeForEveryTest() {
  const [tests, cover] = await Promise.all([everyTest(), coverNow()]);
  const troubles = [];
  for (const test of tests.map(cover)) troubles.push(...(await takeFromLedger(test.id, test, test.started_ms)));
  return troubles;
}
