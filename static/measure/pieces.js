// What goes into a test is gone from its piece: written into the ledger when the test begins, and again whenever its page opens, until it is there.
import { allFinds, recordUse } from "../find/finds.js";
import { NotKept } from "../web/outbox.js";

const isUseIn = (testId) => (row) => row.act === "used" && row.trial === testId; // one that was struck out is not written again

async function take(testId, { test }, { piece_id, piece, name, mass_g }) {
  try {
    const known = (await allFinds()).pieces.find((one) => one.id === piece_id);
    if (!known?.rows.some(isUseIn(testId))) await recordUse(piece_id, { mass_g, test, trial: testId });
    return "";
  } catch (error) {
    if (!(error instanceof NotKept)) throw error;
    return `What is used up of ${piece ?? name} does not stand in its ledger yet. ${error.message} It is tried again when this page opens.`;
  }
}

/** Write what a test {test, glasses} uses up of each piece, once. Resolves to sentences about what could not be written. */
export async function takeFromLedger(testId, { test, glasses }) {
  const place = `isokom-measure-ledger:${testId}`;
  const used = glasses.filter((glass) => glass.piece_id && glass.mass_g !== null);
  if (!used.length || localStorage.getItem(place)) return [];
  const told = [];
  for (const glass of used) told.push(await take(testId, { test }, glass));
  const troubles = told.filter(Boolean);
  if (!troubles.length) remember(place);
  return troubles;
}

function remember(place) {
  try {
    localStorage.setItem(place, "written");
  } catch (error) {
    console.warn("the ledger is asked again next time:", error.name);
  }
}
