// How many repeats a difference needs, and what difference some repeats can show: two means, two-sided at 5 %, seen eight times in ten.
// Guenther (1981), The American Statistician 35, 243: sample sizes for the t-test from the normal quantiles, with a quarter of z² added.
const Z_HALF_ALPHA = 1.959964;
const Z_POWER = 0.841621;
const MOST = 200;

/** Repeats of each glass that show a difference, where readings scatter by sd within a glass (both in one unit, or both logarithms). At least 2; null beyond 200. */
export function repeatsApart(sd, apart) {
  const needed = Math.ceil(2 * ((Z_HALF_ALPHA + Z_POWER) * (sd / apart)) ** 2 + Z_HALF_ALPHA ** 2 / 4);
  return needed > MOST ? null : Math.max(2, needed);
}

/** The least difference, in the unit of sd, that so many runs of one glass and of another show; null where they are fewer than 4 together or one has none. */
export function leastApart(sd, first, second = first) {
  if (first < 1 || second < 1 || first + second < 4) return null;
  const lost = (first + second) / (first + second - Z_HALF_ALPHA ** 2 / 2); // what the scatter's own uncertainty costs, as in repeatsApart
  return (Z_HALF_ALPHA + Z_POWER) * sd * Math.sqrt((1 / first + 1 / second) * lost);
}
