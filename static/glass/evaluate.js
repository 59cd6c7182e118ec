// What each kind of model computes from its data: the twin of server/physics/evaluate.py for one glass.
// A glass is {wt, mol}: objects of oxide amounts, each summing to 100.
import { isokomShifts, isokomsOf, outputs, slopes } from "./learned.js";

export const EPS = 1e-9;

export function sumOf(names, row) {
  return names.reduce((sum, name) => sum + row[name], 0);
}

function measured(glass, bound) {
  const row = bound.unit === "wt" ? glass.wt : glass.mol;
  return bound.minus ? sumOf(bound.of, row) - sumOf(bound.minus, row) : sumOf(bound.of, row);
}

export function holds(glass, bound) {
  const value = measured(glass, bound);
  return !("min" in bound && !(value >= bound.min - EPS)) && !("max" in bound && !(value <= bound.max + EPS));
}

// How far a glass has come towards a bound and beyond: 0 well inside, 0.5 on the limit, 1 well outside.
export function edge(glass, bound, widthShare) {
  const [value, low, high] = [measured(glass, bound), bound.min, bound.max];
  const width = widthShare * (high === undefined ? Math.abs(low) : high - (low ?? 0));
  if (!(width > 0)) return holds(glass, bound) ? 0 : 1;
  const beyond = Math.max(low === undefined ? -Infinity : low - value, high === undefined ? -Infinity : value - high);
  return Math.min(Math.max(beyond / width + 0.5, 0), 1);
}

// How far a glass counts with each family, adding up to 1: no jump at a limit between two.
export function familyShares(glass, { families, blend }) {
  let left = 1;
  return families.map(({ when }) => {
    const share = left * when.reduce((inside, bound) => inside * degree(glass, bound, blend[bound.unit]), 1);
    left -= share;
    return share;
  });
}

function degree(glass, bound, width) {
  const value = measured(glass, bound);
  const passed = (room) => Math.min(Math.max(room / width + 0.5, 0), 1);
  return ("min" in bound ? passed(value - bound.min) : 1) * ("max" in bound ? passed(bound.max - value) : 1);
}

export function firstBroken(glass, bounds) {
  return bounds.findIndex((bound) => !holds(glass, bound));
}

function basisAmounts(model, glass, composition) {
  if (model.basis === "wt") return glass.wt;
  if (model.basis === "mol_per_mol_sio2") {
    const silica = glass.mol.SiO2 > 1e-6 ? glass.mol.SiO2 : NaN;
    return Object.fromEntries(composition.oxides.map((name) => [name, glass.mol[name] / silica]));
  }
  const moles = Object.fromEntries(composition.oxides.map((name) => [name, glass.wt[name] / composition.mass[name]]));
  for (const [name, [into, times]] of Object.entries(model.recast ?? {})) {
    moles[into] += times * moles[name];
    moles[name] = 0;
  }
  const counted = model.over ?? composition.oxides;
  const total = sumOf(counted, moles);
  return Object.fromEntries(composition.oxides.map((n) => [n, counted.includes(n) ? (100 * moles[n]) / (total > 0 ? total : NaN) : 0]));
}

function sumOfTerms(terms, x) {
  return terms.reduce((total, term) => total + term.of.reduce((value, factor) => value * sumOf(factor, x), term.c), 0);
}

function vft(model, glass, composition, levels) {
  const x = basisAmounts(model, glass, composition);
  const a = sumOfTerms(model.terms.A, x) + model.log_eta_offset;
  const b = sumOfTerms(model.terms.B, x);
  const t0 = sumOfTerms(model.terms.T0, x) + model.temperature_offset_k;
  return levels.map((level) => (b > 0 && level > a ? t0 + b / (level - a) : NaN));
}

function isokoms(model, glass, composition, levels) {
  const x = basisAmounts(model, glass, composition);
  return levels.map((level) => isokomBetween(model, x, level));
}

function isokomBetween(model, x, level) {
  const { rows, interpolation_a: a } = model;
  const above = rows.findIndex((row) => row.log_eta_dpas >= level);
  const upper = sumOfTerms(rows[above].terms, x);
  if (rows[above].log_eta_dpas === level) return upper;
  const low = rows[above - 1].log_eta_dpas;
  const high = rows[above].log_eta_dpas;
  const share = (1 / (level - a) - 1 / (high - a)) / (1 / (low - a) - 1 / (high - a));
  return upper + (sumOfTerms(rows[above - 1].terms, x) - upper) * share;
}

function alphaSum(model, glass, composition) {
  return (sumOfTerms(model.terms, basisAmounts(model, glass, composition)) * model.range_factor) / model.divide_by;
}

function alphaPartial(model, glass, composition) {
  const x = basisAmounts(model, glass, composition);
  const total = Object.entries(model.partials).reduce((sum, [name, rule]) => sum + x[name] * partial(rule, x), 0);
  return (total / 100) * model.range_factor;
}

function partial(rule, x) {
  if ("step" in rule) return rule.base + rule.step * (sumOf(rule.of, x) >= rule.at - EPS ? 1 : 0);
  if (!("slope" in rule)) return rule.base;
  let driver = sumOf(rule.of, x);
  for (const name of rule.minus) driver -= x[name];
  for (const name of rule.per) driver /= x[name] > 0 ? x[name] : 1;
  return rule.base + rule.slope * Math.min(Math.max(driver - rule.start, rule.low), rule.high);
}

const VISCOSITY = { vft, isokoms };
const EXPANSION = {
  sum: (...args) => [alphaSum(...args)],
  partial: (...args) => [alphaPartial(...args)],
};

/** {values, far}: far is a learned model's distance to its measured glasses, null for others. */
export function answer(model, glass, composition, levels) {
  if (model.kind === "learned") {
    const x = basisAmounts(model, glass, composition);
    const { found, far } = outputs(model, model.coordinates.map((name) => x[name]));
    return { values: model.quantity === "viscosity" ? isokomsOf(model, found, levels) : found, far };
  }
  const kinds = model.quantity === "viscosity" ? VISCOSITY : EXPANSION;
  return { values: kinds[model.kind](model, glass, composition, levels), far: null };
}

/** glass => how far a model's answers go from `start` to it: a learnt one along its slopes. */
export function stepsFrom(model, start, composition, levels) {
  if (model.kind !== "learned") {
    const values = answer(model, start, composition, levels).values;
    return (moved) => answer(model, moved, composition, levels).values.map((value, k) => value - values[k]);
  }
  const coordinatesOf = (glass) => {
    const x = basisAmounts(model, glass, composition);
    return model.coordinates.map((name) => x[name]);
  };
  const x = coordinatesOf(start);
  const slope = slopes(model, x);
  return (moved) => {
    const step = coordinatesOf(moved).map((value, j) => value - x[j]);
    const found = slope.map((row) => row.reduce((sum, value, j) => sum + value * step[j], 0));
    return model.quantity === "viscosity" ? isokomShifts(model, found, levels) : found;
  };
}
