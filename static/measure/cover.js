// What may be seen here of a test: of one of a covered session the codes on its dishes, and no name.
import { allSessions, isCoveredHere } from "../plan/session.js";
import { LETTERS } from "./tests.js";

const named = (name) => ({ key: null, name, piece_id: null, piece: null, mass_g: null });

function underCover(measured) {
  const { test, dishes, glasses } = measured;
  const codes = new Map(dishes.filter(({ place }) => place).map(({ place, code }) => [`${place}/glass`, code]));
  const readings = new Map([...measured.readings].map(([place, said]) => [place, codes.get(place) ?? said]));
  const single = glasses.map((_glass, i) => named(LETTERS[i] === dishes[0].letter ? `dish ${dishes[0].code}` : "the reference"));
  return { ...measured, title: "", glasses: test === "fuse" ? [named(`${dishes.length} dishes`)] : single, readings, isCovered: true };
}

/** Resolves to a function: a test as its entries tell it -> the test as it may be shown now. */
export async function coverNow() {
  const sessions = await allSessions();
  return (measured) => (isCoveredHere(measured, sessions) ? underCover(measured) : measured);
}
