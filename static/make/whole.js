// Making needs the whole analysis of a glass: what it lacks would be shared out among what it has.
import { CannotMake } from "./addition.js";

/** Throws CannotMake for a glass ({name, wt}) whose total the models would not trust (rules.totals.trust). */
export function askWhole(tool, { name, wt }) {
  const [least, most] = tool.data.rules.totals.trust;
  const total = tool.composition.total({ ...tool.composition.empty(), ...wt });
  if (total < least || total > most) throw new CannotMake(`The analysis of ${name} comes to ${total.toFixed(1)} wt%, not to about 100. What it lacks or has too much cannot be guessed: choose a glass with a whole analysis.`);
}
