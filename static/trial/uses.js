// What went into the flame is gone from its piece: the ledger says so, once for each trial. In a covered session it says so when that is closed or uncovered,
// since a ledger that follows dish by dish would tell what lay in them.
import { recordUses } from "../find/finds.js";
import { allSessions, isCoveredHere } from "../plan/session.js";
import { NotKept } from "../web/outbox.js";
import { everyTrial } from "./trials.js";

/** Write every use that the trials of this tablet tell and the ledger lacks; safe to call again and again. Returns the sentence of a store that refuses, or "". */
export async function writeMissingUses() {
  const [trials, sessions] = await Promise.all([everyTrial(), allSessions()]);
  const gone = trials.filter(({ setup }) => setup?.piece_id && !isCoveredHere(setup, sessions));
  try {
    await recordUses(gone.map(useOf));
    return "";
  } catch (error) {
    if (!(error instanceof NotKept)) throw error;
    return `The ledger of a piece was not written: ${error.message}`;
  }
}

// It is placed where it happened: at the press into the flame.
function useOf({ id, setup, presses }) {
  const { flame_in: press = setup.press } = presses;
  return { pieceId: setup.piece_id, mass_g: setup.mass_g, test: "flame", trial: id, at_ms: Math.round(press.wall_ms) };
}
