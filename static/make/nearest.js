// The weights of raw materials that come nearest to a wanted composition, within limits. Pure; the twin of server/make/batch.py, whose numeric library (scipy's bounded least squares) tests hold it against.
import { CannotMake, solved } from "./addition.js";

const [WHOLE, TRACE_WT, MOST_ROUNDS, TOO_SMALL] = [100, 0.5, 500, 1e-9];

const dot = (a, b) => a.reduce((sum, x, i) => sum + x * b[i], 0);

/** x with 0 <= x <= most that minimises |rows·x - right|²: the active sets of Stark and Parker, Bounded-variable least squares, Computational Statistics 10 (1995) 129-141 (from memory). */
export function boundedLeastSquares(rows, right, most) {
  const columns = most.map((_, j) => rows.map((row) => row[j]));
  const [x, free] = [most.map(() => 0), new Set()];
  const scale = Math.max(...columns.map((column) => Math.abs(dot(column, right))), 1);
  for (let round = 0; round < MOST_ROUNDS; round++) {
    const left = right.map((value, i) => value - dot(rows[i], x));
    const pull = columns.map((column, j) => (free.has(j) ? 0 : dot(column, left) * (x[j] > 0 ? -1 : 1)));
    const next = pull.reduce((best, value, j) => (value > pull[best] ? j : best), 0);
    if (!(pull[next] > TOO_SMALL * scale)) return x;
    free.add(next);
    settle(columns, right, most, x, free);
  }
  return x;
}

// Move to the least squares of the free ones; whoever meets a limit on the way stays there.
function settle(columns, right, most, x, free) {
  while (free.size) {
    const places = [...free];
    const fixed = right.map((value, i) => value - columns.reduce((sum, column, j) => sum + (free.has(j) ? 0 : column[i] * x[j]), 0));
    const wanted = solved(places.map((a) => places.map((b) => dot(columns[a], columns[b]))), places.map((a) => dot(columns[a], fixed)));
    const steps = places.map((j, k) => (wanted[k] < 0 ? x[j] / (x[j] - wanted[k]) : wanted[k] > most[j] ? (most[j] - x[j]) / (wanted[k] - x[j]) : Infinity));
    const step = Math.min(...steps);
    if (!(step < 1)) {
      places.forEach((j, k) => (x[j] = wanted[k]));
      return;
    }
    places.forEach((j, k) => (x[j] += step * (wanted[k] - x[j])));
    const stopped = steps.indexOf(step);
    x[places[stopped]] = wanted[stopped] < 0 ? 0 : most[places[stopped]];
    free.delete(places[stopped]);
  }
}

const sum = (row) => Object.values(row).reduce((total, share) => total + share, 0);

/** {grams, wt, glass_g, gas_g, price} for target {oxide: wt%} and materials [{wt, most_g or null, price_kg or null}]. */
export function nearest(target, glass_g, materials) {
  const total = sum(target);
  if (!(total > 0 && glass_g > 0 && materials.length)) throw new CannotMake("Choose a target, a mass and at least one material.");
  const oxides = [...new Set([target, ...materials.map(({ wt }) => wt)].flatMap(Object.keys))];
  const stays = oxides.map((name) => materials.map(({ wt }) => (wt[name] ?? 0) / 100));
  const most = materials.map(({ most_g }) => (most_g === null ? Infinity : Math.max((most_g * 100) / glass_g, 1e-12)));
  const wanted = oxides.map((name) => ((target[name] ?? 0) * 100) / total);
  const heavy = wanted.map((wt) => 1 / Math.sqrt(wt + TRACE_WT));
  const rows = [...stays.map((row, i) => row.map((share) => share * heavy[i])), materials.map(({ wt }) => (WHOLE * sum(wt)) / 100)];
  const found = boundedLeastSquares(rows, [...wanted.map((wt, i) => wt * heavy[i]), WHOLE * 100], most);
  const grams = found.map((x) => (x < 1e-6 ? 0 : (x * glass_g) / 100));
  const held = stays.map((row) => dot(row, grams));
  const own_g = held.reduce((a, b) => a + b, 0);
  if (!(own_g > 0)) throw new CannotMake("Nothing of these materials stays in the glass within their limits.");
  const isPriced = materials.every(({ price_kg }, i) => grams[i] === 0 || price_kg !== null);
  return {
    grams, wt: Object.fromEntries(oxides.map((name, i) => [name, (100 * held[i]) / own_g])), glass_g: own_g, gas_g: grams.reduce((a, b) => a + b, 0) - own_g,
    price: isPriced ? grams.reduce((all, g, i) => all + (g / 1000) * (materials[i].price_kg ?? 0), 0) : null,
  };
}

/** {most_g, names}: how much of a glass that differs by no more than beyond_wt from the nearest without limits can be made within them, Infinity where it is all that is wanted; and whose limits were met. */
export function enough(target, glass_g, materials, beyond_wt) {
  const { wt } = nearest(target, glass_g, materials.map((one) => ({ ...one, most_g: null })));
  const isNear = (made, wanted_g) => Math.abs(made.glass_g - wanted_g) < 0.01 * wanted_g && Object.keys(wt).every((name) => Math.abs(made.wt[name] - wt[name]) < beyond_wt);
  const whole = nearest(target, glass_g, materials);
  if (isNear(whole, glass_g)) return { most_g: Infinity, names: [] };
  let [low, high] = [0, glass_g];
  while (high - low > 1e-3 * glass_g) {
    const middle = (low + high) / 2;
    if (isNear(nearest(target, middle, materials), middle)) low = middle;
    else high = middle;
  }
  return { most_g: low, names: materials.filter(({ most_g }, i) => most_g !== null && whole.grams[i] >= 0.999 * most_g).map(({ name }) => name) };
}

/** What cannot be reached: [{oxide, by, why}], the largest first. */
export function lacking(target, made, materials, beyond_wt) {
  const total = sum(target);
  const gaps = Object.keys({ ...target, ...made }).map((oxide) => ({ oxide, by: (made[oxide] ?? 0) - ((target[oxide] ?? 0) * 100) / total }));
  const why = ({ oxide, by }) => {
    if (by > 0) return "it makes up for what is lacking, or comes along with others";
    return materials.some(({ wt }) => wt[oxide] > 0) ? "what brings it brings too much else, or is limited" : "no chosen material brings it";
  };
  return gaps.filter(({ by }) => Math.abs(by) >= beyond_wt).sort((a, b) => Math.abs(b.by) - Math.abs(a.by)).map((one) => ({ ...one, why: why(one) }));
}
