// What the analysis itself is unsure of, and what that does to an estimate: the twin of server/physics/analysis.py.
import { EPS, stepsFrom } from "./evaluate.js";

/** One standard deviation in wt% of each reported oxide by the method of analysis. */
export function defaultSd(methods, wt, method) {
  const rule = methods.find((m) => m.key === method);
  const least = (name) => rule.blind?.[name] ?? 0;
  return Object.fromEntries(Object.entries(wt).map(([name, x]) => [name, x > 0 ? Math.max(Math.hypot(rule.relative * x, rule.least_wt), least(name)) : 0]));
}

/** One standard deviation in wt% of each oxide for a total that is not 100: rules.totals. */
export function totalSd(rule, wt, total) {
  const amiss = Math.abs(100 - total) - rule.beyond_wt;
  const of = (x) => (amiss > EPS && total > 0 ? rule.on_one_oxide * amiss * Math.sqrt((x / total) * (1 - x / total)) : 0);
  return Object.fromEntries(Object.entries(wt).map(([name, x]) => [name, of(x)]));
}

/** {points, range}: what the sd leave in a combined answer: each oxide moved alone, the moves added as squares. */
export function propagated(tool, combined, wt, sd) {
  const { composition, levels } = tool;
  const glassOf = (row) => {
    const base = composition.base(row);
    return { wt: base, mol: composition.molFromWt(base) };
  };
  const steps = combined.used.map((v) => stepsFrom(v.model, glassOf(wt), composition, levels));
  const squares = combined.value.map(() => 0);
  let range = 0;
  for (const name of composition.oxides.filter((oxide) => sd[oxide] > 0)) {
    const shift = shiftOf(combined, steps, glassOf({ ...wt, [name]: wt[name] + sd[name] }));
    shift.forEach((step, k) => (squares[k] += step ** 2));
    if (shift.length > 1) range += (shift[0] - shift[1]) ** 2;
  }
  return { points: squares.map(Math.sqrt), range: Math.sqrt(range) };
}

function shiftOf(combined, steps, glass) {
  const total = combined.value.map(() => 0);
  steps.forEach((stepTo, m) => stepTo(glass).forEach((step, k) => {
    const taken = combined.shares[k][m] * step;
    if (Number.isFinite(taken)) total[k] += taken;
  }));
  return total;
}
