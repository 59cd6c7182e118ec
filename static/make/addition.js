// What compounds weighed into a base glass make of it. Pure; the twin of server/physics/addition.py, where the rules stand; a test holds both together in a browser.
const ONE_FORM = { FeO: ["Fe2O3", 0.5], Cu2O: ["CuO", 2], Sb2O5: ["Sb2O3", 1], As2O5: ["As2O3", 1] };
const LARGEST_SHARE = 0.9;

export class CannotMake extends Error {}

const sum = (row) => Object.values(row).reduce((total, x) => total + x, 0);

/** A glass's wt% brought to 100. */
function base(wt) {
  const total = sum(wt);
  if (!(total > 0)) throw new CannotMake("The base glass has no analysis.");
  return Object.fromEntries(Object.entries(wt).map(([name, x]) => [name, (100 * x) / total]));
}

/** x of A x = b by elimination with the largest pivot; A is small. */
export function solved(matrix, right) {
  const rows = matrix.map((row, i) => [...row, right[i]]);
  const n = rows.length;
  for (let i = 0; i < n; i++) {
    const best = rows.slice(i).reduce((found, row, k) => (Math.abs(row[i]) > Math.abs(rows[found][i]) ? k + i : found), i);
    [rows[i], rows[best]] = [rows[best], rows[i]];
    for (let k = 0; k < n; k++) if (k !== i) rows[k] = rows[k].map((x, j) => x - (rows[k][i] / rows[i][i]) * rows[i][j]);
  }
  return rows.map((row, i) => row[n] / row[i]);
}

/** One standard uncertainty in g of a mass weighed as the difference of two rounded readings. */
export const weighingU = (resolution_g) => resolution_g / Math.sqrt(6);

/** Each element that a glass holds in two forms as the one that recipes name. mass: molar masses by oxide. */
export function inOneForm(wt, mass) {
  const found = { ...wt };
  for (const [other, [kept, moles]] of Object.entries(ONE_FORM)) {
    if (found[other]) found[kept] = (found[kept] ?? 0) + (found[other] * moles * mass[kept]) / mass[other];
    delete found[other];
  }
  return found;
}

/** data: compounds by key, each {oxide, gives: {oxide: g per g}, factor}. weighed: [{compound, mass_g, purity}], wanted: [{compound, wt, purity}]; wt of a glass: {oxide: wt%}; mass: molar masses by oxide. */
export class Additions {
  constructor(compounds, mass) {
    this.compounds = compounds;
    this.mass = mass;
  }

  gives({ compound, purity }) {
    return Object.fromEntries(Object.entries(this.compounds[compound].gives).map(([name, grams]) => [name, grams * purity]));
  }

  /** {mass_g, wt, gas_g} of the glass that comes of it. */
  made(baseWt, base_g, weighed) {
    const grams = Object.fromEntries(Object.entries(base(baseWt)).map(([name, x]) => [name, (x * base_g) / 100]));
    for (const one of weighed) for (const [name, share] of Object.entries(this.gives(one))) grams[name] = (grams[name] ?? 0) + share * one.mass_g;
    const mass_g = sum(grams);
    if (!(mass_g > 0)) throw new CannotMake("Nothing is weighed in.");
    return { mass_g, wt: Object.fromEntries(Object.entries(grams).map(([name, x]) => [name, (100 * x) / mass_g])), gas_g: base_g + weighed.reduce((all, one) => all + one.mass_g, 0) - mass_g };
  }

  /** Grams of each compound for what is wanted of all of them together. */
  toWeigh(baseWt, base_g, wanted) {
    if (!wanted.length) return [];
    const oxides = wanted.map(({ compound }) => this.compounds[compound].oxide);
    if (new Set(oxides).size < oxides.length) throw new CannotMake("Two compounds give the same oxide: say the grams of one of them.");
    const glass = inOneForm(base(baseWt), this.mass);
    const shares = wanted.map(({ wt }) => wt / 100);
    if (shares.reduce((all, x) => all + x, 0) > LARGEST_SHARE) throw new CannotMake("That leaves hardly any base glass.");
    const gives = wanted.map((one) => this.gives(one));
    const left = oxides.map((name, i) => gives.map((row) => (row[name] ?? 0) - shares[i] * sum(row)));
    const grams = solved(left, oxides.map((name, i) => base_g * (shares[i] - (glass[name] ?? 0) / 100)));
    const short = grams.findIndex((mass_g) => mass_g < -1e-9 * base_g);
    if (short >= 0) throw new CannotMake(`The base already comes to more than ${wanted[short].wt} wt% ${oxides[short]}.`);
    return wanted.map(({ compound, purity }, i) => ({ compound, mass_g: Math.max(0, grams[i]), purity }));
  }

  /** One standard uncertainty of the finished glass in wt% by oxide, from the balance alone. */
  wtU(baseWt, base_g, weighed, resolution_g) {
    const [glass, { wt, mass_g }] = [base(baseWt), this.made(baseWt, base_g, weighed)];
    const u = weighingU(resolution_g);
    const slopes = (name) => [((glass[name] ?? 0) - wt[name]) / mass_g, ...weighed.filter((one) => one.mass_g > 0).map((one) => this.slope(name, one, wt[name], mass_g))];
    return Object.fromEntries(Object.keys(wt).map((name) => [name, u * Math.hypot(...slopes(name))]));
  }

  slope(name, one, wt, mass_g) {
    const row = this.gives(one);
    return ((row[name] ?? 0) * 100 - wt * sum(row)) / mass_g;
  }
}

/** {mass_g, wt, u} of glasses melted together: [{wt, mass_g}]; u is one standard uncertainty in wt% from the balance alone. The twin of blended() and blended_u(). */
export function blended(parts, resolution_g) {
  const real = parts.filter(({ mass_g }) => mass_g > 0).map(({ wt, mass_g }) => ({ glass: base(wt), mass_g }));
  const mass_g = real.reduce((all, one) => all + one.mass_g, 0);
  if (!(mass_g > 0)) throw new CannotMake("Nothing is weighed in.");
  const names = [...new Set(real.flatMap(({ glass }) => Object.keys(glass)))];
  const wt = Object.fromEntries(names.map((name) => [name, real.reduce((all, one) => all + (one.glass[name] ?? 0) * one.mass_g, 0) / mass_g]));
  const u = Object.fromEntries(names.map((name) => [name, weighingU(resolution_g) * Math.hypot(...real.map(({ glass }) => ((glass[name] ?? 0) - wt[name]) / mass_g))]));
  return { mass_g, wt, u };
}
