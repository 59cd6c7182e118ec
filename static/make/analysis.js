// The analysis of a raw material as it is typed: "SiO2 99.6, Al2O3 0.2, LOI 0.1" -> wt% of what stays. Pure.
import { CannotMake } from "./addition.js";
import { numberOf } from "./number.js";

const LOST = ["loi", "co2", "h2o", "h2o+", "h2o-"]; // what leaves: loss on ignition, or the gases that make it up
const PAIR = /([A-Za-z][A-Za-z0-9]*[+-]?)[\s:=]+(<?)\s*(\d+(?:[.,]\d+)?|[.,]\d+)\s*%?/g;
const NEAR_WHOLE = [0.95, 1.05]; // of 100 less the loss: what an analysis with its loss comes to

/** As the form shows it: oxides, and what leaves as LOI. */
export function printedAnalysis(wt) {
  const stays = Object.values(wt).reduce((all, share) => all + share, 0);
  const rows = Object.entries(wt).map(([name, share]) => `${name} ${Number(share.toFixed(3))}`);
  return [...rows, ...(100 - stays > 0.05 ? [`LOI ${Number((100 - stays).toFixed(3))}`] : [])].join(", ");
}

/** {oxide: wt% that stay}. Where a loss is given, the oxides are brought to 100 less it; else what lacks to 100 leaves. oxides: names that are known; most_wt: what may stay of 100. */
export function analysisOf(text, material, oxides, most_wt) {
  const pairs = [...text.matchAll(PAIR)].map(([, name, below, share]) => [nameOf(name, oxides), below ? 0 : numberOf(share)]); // below a limit: nothing
  const rest = text.replace(PAIR, "").replace(/[\s,;]+/g, " ").replace(/\.?\s*$/, "").trim();
  if (!pairs.length || rest) throw new CannotMake(`The analysis of ${material} cannot be read${rest ? ` at “${rest.slice(0, 20)}”` : ""}. Write for example CaO 54.9, MgO 0.6, LOI 43.9.`);
  const twice = pairs.find(([name], i) => pairs.findIndex(([other]) => other === name) < i);
  if (twice) throw new CannotMake(`The analysis of ${material} gives ${twice[0]} twice.`);
  const leaves = pairs.filter(([name]) => LOST.includes(name));
  const lost = leaves.length ? leaves.reduce((all, [, share]) => all + share, 0) : null;
  const stay = pairs.filter(([name]) => !LOST.includes(name));
  if (!stay.length) throw new CannotMake(`The analysis of ${material} has nothing that stays in the glass.`);
  return withLoss(stay, lost, material, most_wt);
}

function nameOf(typed, oxides) {
  const small = typed.toLowerCase();
  if (LOST.includes(small)) return small;
  const found = oxides.find((name) => name.toLowerCase() === small);
  if (!found) throw new CannotMake(`${typed.slice(0, 40)} is not an oxide that Isokom knows.`);
  return found;
}

function withLoss(stay, lost, material, most_wt) {
  const total = stay.reduce((all, [, share]) => all + share, 0);
  if (total > most_wt) throw new CannotMake(`The analysis of ${material} comes to ${total.toFixed(1)} wt%: no more can stay in the glass than is weighed. Give it as weighed, with its loss.`);
  if (lost === null) return Object.fromEntries(stay);
  const share = total / (100 - lost);
  if (!(lost < 100 && share >= NEAR_WHOLE[0] && share <= NEAR_WHOLE[1])) throw new CannotMake(`The analysis of ${material} comes to ${(total + lost).toFixed(1)} wt% with its loss, not to about 100.`);
  return Object.fromEntries(stay.map(([name, wt]) => [name, wt / share]));
}
