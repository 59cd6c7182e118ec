// Analyses in the page: the same figures, units and refusals as server/physics/composition.py, from the same data file.
export const ABSENT = new Set(["", "-", "–", "—", "*", "bd", "b.d.", "bdl", "b.d.l.", "<lod", "<dl", "nd", "n.d.", "na", "n.a.", "nan", "tr", "tr.", "trace"]);
const NUMBER = /^(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][+-]?\d{1,2})?$/;
const LARGEST = { wt: 100, mol: 100, ppm: 1e6 };

export class BadComposition extends Error {
  constructor(message, code, field) {
    super(message);
    this.code = code;
    this.field = field;
  }
}

export function parseNumber(text, field) {
  const cell = text.trim();
  if (ABSENT.has(cell.toLowerCase())) return { value: 0, limit: null };
  const below = cell.startsWith("<");
  const digits = below ? cell.slice(1).trim() : cell;
  if (/^[-−]/.test(digits)) throw new BadComposition(`${field}: ${cell} is negative. An amount cannot be below zero.`, "negative", field);
  if (!NUMBER.test(digits)) throw new BadComposition(`${field}: “${cell.slice(0, 40)}” is not a number.`, "not_a_number", field);
  if (/^[1-9]\d{0,2},\d{3}$/.test(digits)) {
    const readings = `${digits.replace(",", ".")} or ${digits.replace(",", "")}`;
    throw new BadComposition(`${field}: ${digits} can be read two ways. Write ${readings}.`, "ambiguous_comma", field);
  }
  const value = Number(digits.replace(",", "."));
  return below ? { value: 0, limit: value } : { value, limit: null };
}

export class Composition {
  // data: the "oxides" part of the model bundle
  constructor(data) {
    this.data = data;
    this.oxides = Object.keys(data.oxides);
    this.mass = {};
    for (const [name, parts] of Object.entries(data.oxides)) {
      this.mass[name] = Object.entries(parts).reduce((sum, [e, n]) => sum + data.atomic_weights_g_mol[e] * n, 0);
    }
    this.leftOut = new Set(data.left_out_of_the_glass);
  }

  knows(name, unit) {
    return Object.hasOwn(unit === "ppm" ? this.data.oxide_of_element : this.data.oxides, name);
  }

  amount(name, text, unit) {
    if (!this.knows(name, unit)) {
      const what = unit === "ppm" ? "an element" : "an oxide";
      throw new BadComposition(`${name.slice(0, 40)} is not ${what} that Isokom knows.`, "unknown_name", name.slice(0, 40));
    }
    const { value, limit } = parseNumber(text, name);
    if (Math.max(value, limit ?? 0) > LARGEST[unit]) {
      throw new BadComposition(`${name}: ${text.trim().slice(0, 40)} is more than the whole.`, "too_large", name);
    }
    return { name, value, unit, limit };
  }

  // wt% per oxide (object, not normalised) from a list of amounts
  wtOf(amounts) {
    const units = new Set(amounts.filter((a) => a.value || a.limit).map((a) => a.unit));
    if (units.has("mol") && units.size > 1) {
      throw new BadComposition("mol% cannot be mixed with wt% or ppm in one analysis.", "mixed_units", "unit");
    }
    const seen = new Set();
    const row = this.empty();
    for (const a of amounts) {
      const key = `${a.name} ${a.unit}`;
      if (seen.has(key)) throw new BadComposition(`${a.name} is given twice.`, "given_twice", a.name);
      seen.add(key);
      const oxide = a.unit === "ppm" ? this.data.oxide_of_element[a.name] : a.name;
      row[oxide] += a.unit === "ppm" ? this.wtFromPpm(a.name, a.value) : a.value;
    }
    if (!units.has("mol")) return row;
    const total = this.total(row);
    const wt = this.wtFromMol(row);
    for (const name of this.oxides) wt[name] *= total / 100;
    return wt;
  }

  empty() {
    return Object.fromEntries(this.oxides.map((name) => [name, 0]));
  }

  total(row) {
    return this.oxides.reduce((sum, name) => sum + row[name], 0);
  }

  share(row) {
    const total = this.total(row);
    return Object.fromEntries(this.oxides.map((name) => [name, total > 0 ? (100 * row[name]) / total : 0]));
  }

  wtFromPpm(element, ppm) {
    const oxide = this.data.oxide_of_element[element];
    const atoms = this.data.oxides[oxide][element];
    return (ppm * 1e-4 * this.mass[oxide]) / (atoms * this.data.atomic_weights_g_mol[element]);
  }

  wtFromMol(mol) {
    return this.share(Object.fromEntries(this.oxides.map((name) => [name, mol[name] * this.mass[name]])));
  }

  molFromWt(wt) {
    return this.share(Object.fromEntries(this.oxides.map((name) => [name, wt[name] / this.mass[name]])));
  }

  base(wt) {
    return this.share(Object.fromEntries(this.oxides.map((name) => [name, this.leftOut.has(name) ? 0 : wt[name]])));
  }
}
