// How many repeats a difference needs, and what difference some repeats can show: Student's t-test of two means, two-sided at 5 %, seen eight times in ten.
// Exact: the power is that of the non-central t (Johnson, Kotz & Balakrishnan, Continuous Univariate Distributions 2, chapter 31, from memory), summed by Simpson's rule; a test holds it against scipy.
const ALPHA = 0.05;
const POWER = 0.8;
const MOST = 200;
const STEPS = 400;

// Normal distribution function; the series of the error function where it converges fast, else its continued fraction.
function phi(x) {
  const z = Math.abs(x);
  if (z > 8) return x > 0 ? 1 : 0;
  if (z < 3) {
    let [sum, term] = [z, z];
    for (let k = 1; term > 1e-16 * sum; k += 1) sum += term *= (z * z) / (2 * k + 1);
    return 0.5 + Math.sign(x) * sum * Math.exp((-z * z) / 2) / Math.sqrt(2 * Math.PI);
  }
  let tail = 0;
  for (let k = 40; k > 0; k -= 1) tail = k / (z + tail);
  const beyond = Math.exp((-z * z) / 2) / Math.sqrt(2 * Math.PI) / (z + tail);
  return x > 0 ? 1 - beyond : beyond;
}

// How likely t lies beyond `limit` where the means are `shift` standard errors apart: over the scatter s that df degrees of freedom may show, P(z > limit s - shift).
function beyond(limit, shift, df) {
  const width = 8 / Math.sqrt(2 * df);
  const [low, high] = [Math.max(1e-9, 1 - width), 1 + width + (df < 3 ? 2 : 0)];
  const step = (high - low) / STEPS;
  let [sum, whole] = [0, 0];
  for (let i = 0; i <= STEPS; i += 1) {
    const s = low + i * step;
    const weight = (i === 0 || i === STEPS ? 1 : i % 2 ? 4 : 2) * Math.exp((df - 1) * Math.log(s) - (df * (s * s - 1)) / 2);
    sum += weight * phi(shift - limit * s);
    whole += weight;
  }
  return sum / whole;
}

// Where a rising function of x passes `wanted`.
function passing(rising, wanted, low, high) {
  let [from, to] = [low, high];
  for (let i = 0; i < 60; i += 1) {
    const middle = (from + to) / 2;
    if (rising(middle) < wanted) from = middle;
    else to = middle;
  }
  return (from + to) / 2;
}

const limits = new Map();

function limitOf(df) {
  if (!limits.has(df)) limits.set(df, passing((t) => -beyond(t, 0, df), -ALPHA / 2, 0, 30));
  return limits.get(df);
}

/** How likely a difference is seen, with so many runs of either glass. sd and apart in one unit, or both logarithms. */
export function powerOf(sd, apart, first, second) {
  const df = first + second - 2;
  return beyond(limitOf(df), apart / (sd * Math.sqrt(1 / first + 1 / second)), df);
}

/** Repeats of a glass that show a difference, against as many of the other or against `fixed` runs of it. At least 2 (1 against fixed ones); null beyond 200. */
export function repeatsApart(sd, apart, fixed = null) {
  const isSeen = (n) => powerOf(sd, apart, n, fixed ?? n) >= POWER;
  if (!isSeen(MOST)) return null;
  let [low, high] = [fixed === null ? 2 : 1, MOST];
  while (low < high) {
    const middle = Math.floor((low + high) / 2);
    if (middle + (fixed ?? middle) > 2 && isSeen(middle)) high = middle;
    else low = middle + 1;
  }
  return low;
}

/** The least difference, in the unit of sd, that so many runs of one glass and of another show; null where they are fewer than 4 together or one has none. */
export function leastApart(sd, first, second = first) {
  if (first < 1 || second < 1 || first + second < 4) return null;
  return passing((apart) => powerOf(sd, apart, first, second), POWER, 0, 40 * sd);
}
