// Making needs the whole analysis of a glass: what it lacks would be shared out among what it has.
import { totalSd } from "../glass/analysis.js";
import { CannotMake } from "./addition.js";

const totalOf = (tool, wt) => tool.composition.total({ ...tool.composition.empty(), ...wt });

/** Throws CannotMake for a glass ({name, wt}) whose total the models would not trust (rules.totals.trust). */
export function askWhole(tool, { name, wt }) {
  const [least, most] = tool.data.rules.totals.trust;
  const total = totalOf(tool, wt);
  if (total < least || total > most) throw new CannotMake(`The analysis of ${name} comes to ${total.toFixed(1)} wt%, not to about 100. What it lacks or has too much cannot be guessed: choose a glass with a whole analysis.`);
}

/** One standard deviation by oxide of a glass brought to 100 wt%: what its analysis is worth, and what it lacks to 100. */
export function sdOfWhole(tool, { wt, method }) {
  const given = { ...tool.composition.empty(), ...wt };
  const total = totalOf(tool, wt);
  const [sd, amiss] = [tool.defaultSd(given, method), totalSd(tool.data.rules.totals, given, total)];
  return Object.fromEntries(Object.keys(given).map((name) => [name, (100 / total) * Math.hypot(sd[name], amiss[name])]));
}

/** The estimate of a glass of the list, with what its analysis leaves unsure. */
export function reportOf(tool, { wt, weathered, method }) {
  return tool.estimate(wt, weathered, tool.defaultSd({ ...tool.composition.empty(), ...wt }, method));
}

/** A word on an analysis that does not come to 100, or "". */
export function totalWords(tool, { name, wt }) {
  const total = totalOf(tool, wt);
  if (Math.abs(100 - total) <= tool.data.rules.totals.beyond_wt) return "";
  return `The analysis of ${name} adds up to ${total.toFixed(1)} of 100. It is brought to 100, and what that leaves unsure is in the ±.`;
}
