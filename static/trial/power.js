// How many repeats a difference needs, and what difference some repeats can show: two means of logarithmic times, two-sided at 5 %, seen eight times in ten.
// Guenther (1981), The American Statistician 35, 243: sample sizes for the t-test from the normal quantiles, with a quarter of z² added.
const Z_HALF_ALPHA = 1.959964;
const Z_POWER = 0.841621;
const MOST = 200;

/** Repeats of each glass that show times `percent` apart, where ln t scatters by sd within a glass. At least 2; null beyond 200. */
export function repeatsFor(sd, percent) {
  const apart = Math.log(1 + percent / 100);
  const needed = Math.ceil(2 * ((Z_HALF_ALPHA + Z_POWER) * (sd / apart)) ** 2 + Z_HALF_ALPHA ** 2 / 4);
  return needed > MOST ? null : Math.max(2, needed);
}

/** The least difference in per cent that so many repeats show; null for fewer than 2. */
export function differenceFor(sd, repeats) {
  if (repeats < 2) return null;
  const apart = (Z_HALF_ALPHA + Z_POWER) * sd * Math.sqrt(2 / (repeats - Z_HALF_ALPHA ** 2 / 4));
  return 100 * (Math.exp(apart) - 1);
}
