// Glasses for a trial: all that can be chosen, and those timed last on this tablet.
import { quickFrom } from "../web/glasses.js";
import { earlierSetups } from "./trials.js";

export { everyGlass, matching } from "../web/glasses.js";

/** Glasses used last on this tablet, then the catalogue's first, up to four. */
export async function quickGlasses(known) {
  const used = (await earlierSetups()).filter((s) => !s.piece && !s.session && s.glass_name).map((s) => ({ key: s.glass_key, name: s.glass_name }));
  return { chips: quickFrom(used, known), isUsed: used.length > 0 };
}
