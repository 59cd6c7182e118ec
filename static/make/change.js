// How the working of a glass changes when a little is added to it. Pure; the twin of server/physics/change.py, where the rule stands.
const PARTS = [["softening", "7.6"], ["working", "4"], ["range", "range"], ["alpha", "alpha"]];

function interpolated(x, xs, ys) {
  if (x <= xs[0]) return ys[0];
  const i = xs.findIndex((edge) => x < edge);
  return i < 0 ? ys.at(-1) : ys[i - 1] + ((ys[i] - ys[i - 1]) * (x - xs[i - 1])) / (xs[i] - xs[i - 1]);
}

function distanceMol(before, after) {
  const names = new Set([...Object.keys(before.mol), ...Object.keys(after.mol)]);
  return Math.hypot(...[...names].map((name) => (after.mol[name] ?? 0) - (before.mol[name] ?? 0)));
}

function valueOf(made, part) {
  if (part === "alpha") return made.alpha && [made.alpha.value_1e7_k, made.alpha.u_1e7_k, made.alpha.u95_1e7_k];
  if (!made.points) return null;
  if (part === "range") return made.range.u_k === null ? null : [made.range.width_k, made.range.u_k, made.range.u95_k];
  const { t_c, u_k, u95_k } = made.points[part];
  return [t_c, u_k, u95_k];
}

/** {softening, working, range, alpha: {by, u, u95} or null} of two reports, after less before. pairs: data.accuracy.pairs of the model bundle. */
export function change(before, after, pairs) {
  const distance = distanceMol(before, after);
  return Object.fromEntries(PARTS.map(([part, counted]) => {
    const [one, other] = [valueOf(before, part), valueOf(after, part)];
    if (!one || !other) return [part, null];
    const { distance_mol: xs, f68, f95 } = pairs[counted];
    const close = Math.min(1, distance / xs[0]);
    const width = (ys, place) => interpolated(distance, xs, ys) * close * Math.hypot(one[place], other[place]);
    return [part, { by: other[0] - one[0], u: width(f68, 1), u95: width(f95, 2) }];
  }));
}

/** wt% of what came in that every model used for "viscosity" or "expansion" passes over. */
export function unseenWt(before, after, quantity) {
  const ignored = (made) => new Map(made.verdicts.filter((v) => v.used && v.quantity === quantity).map((v) => [v.model, v.ignored_wt]));
  const [one, other] = [ignored(before), ignored(after)];
  const more = [...other].map(([key, wt]) => wt - (one.get(key) ?? 0));
  return more.length ? Math.max(0, Math.min(...more)) : 0;
}
