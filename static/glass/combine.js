// Who may answer, and the weighted answer of those who may: the twin of server/physics/combine.py for one glass.
import { edge, firstBroken } from "./evaluate.js";

const EXTRAPOLATED = 1;
const REFUSED = 3;

// Index of the first bound that does not hold; a learned model's distance counts as the bound after the last.
export function firstPassed(model, glass, which, far) {
  const broken = firstBroken(glass, model[which]);
  return broken === -1 && far !== null && !(far <= model.domain[which]) ? model[which].length : broken;
}

const clip = (x) => Math.min(Math.max(x, 0), 1);

/** How far a glass is from the middle of what a model knows: 0 inside, 1 well outside. */
export function edgeOf(model, glass, ignored, far, rules) {
  const { bound_share, ignored_wt, distance_shares } = rules.edge;
  const parts = model.bounds.map((bound) => edge(glass, bound, bound_share));
  parts.push(clip((ignored - rules.ignored.note_above_wt) / ignored_wt + 0.5));
  if (far !== null) {
    const [start, end] = distance_shares.map((share) => share * model.domain.bounds);
    parts.push(Number.isFinite(far) ? clip((far - start) / (end - start)) : NaN);
  }
  return Math.max(...parts);
}

/** From the count inside to the one outside by the edge; the one there is where the other is not. */
export function between(inside, outside, share) {
  const from = Number.isFinite(inside) ? inside : outside;
  const to = Number.isFinite(outside) ? outside : from;
  return from + share * (to - from);
}

/** {gap, doubt} of the two used models furthest beyond their errors in quadrature, or null. */
export function furthestApart({ used, state }, level) {
  if (state > EXTRAPOLATED) return null;
  let found = null;
  used.forEach((one, i) => used.slice(0, i).forEach((other) => {
    const gap = Math.abs(one.values[level] - other.values[level]);
    const doubt = Math.hypot(one.u[level], other.u[level]);
    if (gap / doubt > (found?.ratio ?? 1)) found = { gap, doubt, ratio: gap / doubt };
  }));
  return found && { gap: found.gap, doubt: found.doubt };
}

// Models inside their bounds where there is one, else those that may be carried further, learned ones where one can; weights 1/u².
export function combine(verdicts, levels) {
  const best = Math.min(...verdicts.map((v) => v.state));
  if (best > EXTRAPOLATED) return { state: REFUSED, verdicts, used: [] };
  const there = verdicts.filter((v) => v.state === best);
  const learned = there.filter((v) => v.model.kind === "learned");
  const used = best === EXTRAPOLATED && learned.length ? learned : there;
  const value = [], spread = [], shares = [];
  for (let k = 0; k < levels; k += 1) {
    const weights = used.map((v) => 1 / v.u[k] ** 2);
    const total = weights.reduce((a, b) => a + b, 0);
    shares.push(weights.map((w) => w / total));
    const mean = (f) => used.reduce((sum, v, i) => sum + weights[i] * f(v), 0) / total;
    value.push(mean((v) => v.values[k]));
    const between = mean((v) => (v.values[k] - value[k]) ** 2);
    spread.push(Math.sqrt(mean((v) => v.u[k] ** 2) + between));
  }
  return { state: best, value, spread, shares, verdicts, used };
}
