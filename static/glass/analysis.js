// What the analysis itself is unsure of, and what that does to an estimate: the twin of server/physics/analysis.py.
import { answer } from "./evaluate.js";

/** One standard deviation in wt% of each reported oxide by the method of analysis. */
export function defaultSd(methods, wt, method) {
  const rule = methods.find((m) => m.key === method);
  const least = (name) => rule.blind?.[name] ?? 0;
  return Object.fromEntries(Object.entries(wt).map(([name, x]) => [name, x > 0 ? Math.max(Math.hypot(rule.relative * x, rule.least_wt), least(name)) : 0]));
}

/** {points, range}: what the sd leave in a combined answer: each oxide moved alone, the moves added as squares. */
export function propagated(tool, combined, wt, sd) {
  const squares = combined.value.map(() => 0);
  let range = 0;
  for (const name of tool.composition.oxides.filter((oxide) => sd[oxide] > 0)) {
    const shift = shiftOf(tool, combined, { ...wt, [name]: wt[name] + sd[name] });
    shift.forEach((step, k) => (squares[k] += step ** 2));
    if (shift.length > 1) range += (shift[0] - shift[1]) ** 2;
  }
  return { points: squares.map(Math.sqrt), range: Math.sqrt(range) };
}

function shiftOf({ composition, levels }, combined, moved) {
  const base = composition.base(moved);
  const glass = { wt: base, mol: composition.molFromWt(base) };
  const total = combined.value.map(() => 0);
  combined.used.forEach((v, m) => {
    answer(v.model, glass, composition, levels).values.forEach((value, k) => {
      const step = combined.shares[k][m] * (value - v.values[k]);
      if (Number.isFinite(step)) total[k] += step;
    });
  });
  return total;
}
