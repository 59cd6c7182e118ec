// What goes into a test is gone from its piece: written into the ledger when the test begins, and again when its page opens, until it is there.
import { recordUse } from "../find/finds.js";
import { NotKept } from "../web/outbox.js";
import { coverNow } from "./cover.js";
import { everyTest } from "./tests.js";

async function take(trial, test, { piece_id, piece, name, mass_g }, at_ms) {
  try {
    await recordUse(piece_id, { mass_g, test, trial, at_ms });
    return "";
  } catch (error) {
    if (!(error instanceof NotKept)) throw error;
    return `What is used up of ${piece ?? name} does not stand in its ledger yet. ${error.message} It is tried again when this page opens.`;
  }
}

/** Write what a test {test, glasses} uses up of each piece, once. `at_ms` is when it began, where that is past. Resolves to sentences about what could not be written. */
export async function takeFromLedger(testId, { test, glasses }, at_ms) {
  const troubles = [];
  for (const glass of glasses.filter((one) => one.piece_id && one.mass_g !== null)) troubles.push(await take(testId, test, glass, at_ms));
  return troubles.filter(Boolean);
}

/** The same for every test on this tablet. One of a covered session is left until that ends: a ledger that followed dish by dish would tell what lay in them. */
export async function takeForEveryTest() {
  const [tests, cover] = await Promise.all([everyTest(), coverNow()]);
  const troubles = [];
  for (const test of tests.map(cover)) troubles.push(...(await takeFromLedger(test.id, test, test.started_ms)));
  return troubles;
}
