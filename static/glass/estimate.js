// From one analysis to working properties, in the page: the twin of server/physics/estimate.py and report.py.
// `data` is the bundle that the server makes of its own model files; tests prove both equal in a real browser.
import { Composition } from "./composition.js";
import { defaultSd, propagated, totalSd } from "./analysis.js";
import { between, combine, edgeOf, firstPassed, furthestApart } from "./combine.js";
import { EPS, answer, familyShares, firstBroken, sumOf } from "./evaluate.js";

const POINTS = ["working", "softening", "annealing"];
const LEVEL_KEYS = ["4", "7.6", "13"];
const STATES = ["answered", "extrapolated", "stood_aside", "refused"];
const EXTRAPOLATED = 1;
const REFUSED = 3;
const SIDES = ["answered", "extrapolated"];

export class Estimator {
  constructor(data) {
    this.data = data;
    this.composition = new Composition(data.oxides);
    this.levels = POINTS.map((name) => data.rules.fixed_points[name]);
    this.cautions = new Set(data.rules.cautions);
  }

  // wt: object of wt% by oxide as analysed, any total
  // sd: one standard deviation of each amount in wt%, or null where the analysis counts as exact
  estimate(wt, weathered = false, sd = null) {
    const readable = Object.values(wt).every((x) => Number.isFinite(x) && x >= 0);
    const analysed = readable ? { ...this.composition.empty(), ...wt } : this.composition.empty();
    const total = this.composition.total(analysed);
    const base = this.composition.base(analysed);
    const glass = { wt: base, mol: this.composition.molFromWt(base) };
    const family = this.data.families.families.find((f) => firstBroken(glass, f.when) === -1);
    const shares = familyShares(glass, this.data.families);
    const { notes, open } = this.gate(analysed, total, glass, readable, weathered);
    return this.assemble({ total, glass, family, shares, notes, open, analysed, sd });
  }

  defaultSd(wt, method) {
    return defaultSd(this.data.analysis.methods, wt, method);
  }

  // the part of each ± that comes from the analysis and its total, or null
  doubt(viscosity, expansion, { analysed, total, open, sd: given }) {
    const amiss = totalSd(this.data.rules.totals, analysed, total);
    if (!given && !(open && Object.values(amiss).some((x) => x > 0))) return null;
    const sd = Object.fromEntries(Object.entries(amiss).map(([name, x]) => [name, Math.hypot(x, given?.[name] ?? 0)]));
    const [v, a] = [viscosity, expansion].map((x) => (x.value ? propagated(this, x, analysed, sd) : { points: [0, 0, 0], range: 0 }));
    const [working, softening, annealing] = v.points;
    return { working, softening, annealing, range: v.range, alpha: a.points[0] };
  }

  gate(wt, total, glass, readable, skin) {
    const { accept, note, trust } = this.data.rules.totals;
    const within = ([low, high]) => total >= low - EPS && total <= high + EPS;
    const alkali = glass.wt.Na2O + glass.wt.K2O;
    const { layer, suspect } = this.weathered(glass);
    const refusals = [
      ["unreadable", !readable, {}],
      ["weathered_surface", skin, {}],
      ["no_silica", readable && glass.wt.SiO2 <= 0, {}],
      ["total_refused", readable && !within(trust), { total }],
      ["weathered_layer", layer, { silica: glass.wt.SiO2, alkali }],
    ].filter(([, holds]) => holds);
    const open = refusals.length === 0;
    const chlorine = wt.Cl + wt.F;
    const remarks = [
      ["total_trust", within(trust) && !within(note), { total }],
      ["total_note", within(note) && !within(accept), { total }],
      ["weathered_suspect", suspect, {}],
      ["iron_both", wt.FeO > 0 && wt.Fe2O3 > 0, {}],
      ["chlorine_left_out", chlorine > 0, { amount: chlorine }],
    ].filter(([, holds]) => open && holds);
    return { open, notes: [...refusals, ...remarks].map(([code, , values]) => this.note(code, values)) };
  }

  weathered({ wt }) {
    const rule = this.data.rules.weathered;
    const alkali = wt.Na2O + wt.K2O;
    const layer = wt.SiO2 > rule.silica_above_wt && alkali < rule.alkali_below_wt && wt.B2O3 < rule.boron_below_wt;
    const poor = alkali < rule.flux_below_wt && wt.CaO < rule.lime_below_wt && [wt.K2O, wt.PbO, wt.B2O3].every((x) => x < rule.other_below_wt);
    return { layer, suspect: poor && !layer };
  }

  note(code, values) {
    return { code, caution: this.cautions.has(code), values, text: this.sentence(code, values) };
  }

  sentence(code, values) {
    return this.data.sentences[code].replace(/\{(\w+)(?::(\d))?\}/g, (_, name, digits) =>
      digits ? values[name].toFixed(Number(digits)).replace("-", "−") : String(values[name]));
  }

  assemble({ total, glass, family, shares, notes, open, analysed, sd }) {
    const ask = (quantity, props) => this.data.models.filter((m) => m.quantity === quantity).map((m) => this.ask(m, glass, shares, open, props));
    const viscosity = this.calibrate(combine(ask("viscosity", LEVEL_KEYS), 3), shares, LEVEL_KEYS);
    const expansion = this.calibrate(combine(ask("expansion", ["alpha"]), 1), shares, ["alpha"]);
    const vft = viscosity.state <= EXTRAPOLATED ? vftThrough(this.levels, viscosity.value) : null;
    const state = vft ? viscosity.state : REFUSED;
    const doubt = this.doubt(viscosity, expansion, { analysed, total, open, sd });
    const points = vft && this.points(viscosity, glass, doubt);
    const all = [...notes, ...this.modelNotes(viscosity, state, expansion, glass, open), ...(points && glass.wt.PbO <= this.data.rules.lead.widen_above_wt ? this.oneSided(viscosity, points, family) : []), ...this.apart(viscosity, expansion, points)];
    return {
      status: status(state, expansion.state, notes),
      family: { key: family.key, label: family.label },
      total_wt: total,
      wt: positive(glass.wt),
      mol: positive(glass.mol),
      points,
      range: vft && this.range(viscosity, shares, doubt),
      vft,
      alpha: alphaOf(expansion, doubt),
      analysis_u: doubt,
      verdicts: [viscosity, expansion].flatMap(({ verdicts, used }) => verdicts.map((v) => this.verdict(v, family.key, total > 0, used))),
      notes: all,
    };
  }

  ask(model, glass, shares, open, props) {
    const rules = this.data.rules.ignored;
    const ignored = 100 - sumOf(model.reads, glass.wt);
    const { values, far } = answer(model, glass, this.composition, this.levels);
    let broken = firstPassed(model, glass, "bounds", far);
    let state = broken === -1 ? 0 : 2;
    if (model.reach) {
      const out = firstPassed(model, glass, "reach", far);
      if (out !== -1) [state, broken] = [REFUSED, out];
      else if (state === 2) state = EXTRAPOLATED;
    }
    if (state === 0 && ignored > rules.note_above_wt + EPS) state = EXTRAPOLATED;
    if (state <= EXTRAPOLATED && ignored > rules.refuse_above_wt + EPS) state = REFUSED;
    if (!open) state = REFUSED;
    const side = state === 0 ? "inside" : "outside";
    const edge = edgeOf(model, glass, ignored, far, this.data.rules);
    const u = props.map((prop) => this.uOf(model.key, shares, edge, prop));
    if (state <= EXTRAPOLATED && ![...values, ...u].every(Number.isFinite)) state = REFUSED;
    return { model, state, broken, ignored, side, edge, values, u };
  }

  // the mean over families of what `of(family key)` says, by the glass's shares
  byFamily(shares, of) {
    return shares.reduce((sum, share, i) => (share > 0 ? sum + share * of(this.data.families.families[i].key) : sum), 0);
  }

  // what the combined answers were worth on measured glasses of such families: factors on the models' spread
  calibrated(state, shares, prop, what) {
    const counted = this.data.accuracy.combined;
    return this.byFamily(shares, (family) => {
      const found = counted[family][SIDES[state]][prop];
      const tooFew = !found || (what === "bias" && found.n < this.data.rules.minimum_glasses);
      return (tooFew ? counted.any[SIDES[state]][prop] : found)[what];
    });
  }

  uOf(model, shares, edge, prop) {
    const [inside, outside] = ["inside", "outside"].map((side) => this.byFamily(shares, (family) => this.cell(model, family, side, prop)?.u ?? NaN));
    return between(inside, outside, edge);
  }

  calibrate(combined, shares, props) {
    if (combined.state > EXTRAPOLATED) return combined;
    const counted = (what) => props.map((prop) => this.calibrated(combined.state, shares, prop, what));
    const times = (what) => counted(what).map((factor, k) => combined.spread[k] * factor);
    return { ...combined, u: times("c68"), u95: times("c95"), bias: counted("bias") };
  }

  // what the model did on measured glasses of this family, or of all where too few were counted
  cell(model, family, side, prop) {
    const counted = this.data.accuracy.models[model] ?? {};
    for (const name of [family, "any"]) {
      const found = counted[name]?.[side]?.[prop];
      if (found && found.n >= this.data.rules.minimum_glasses) {
        const floor = this.data.rules.floors[prop];
        return { ...found, family: name, u: Math.max(found.u, floor), u95: Math.max(found.u95, 2 * floor) };
      }
    }
    return null;
  }

  leadK(glass) {
    const rule = this.data.rules.lead;
    return glass.wt.PbO > rule.widen_above_wt ? rule.k_per_wt * glass.wt.PbO : 0;
  }

  points(viscosity, glass, doubt) {
    const lead = this.leadK(glass);
    const rule = this.data.rules.strain;
    const points = Object.fromEntries(POINTS.map((name, k) => [name, {
      t_c: viscosity.value[k],
      u_k: Math.hypot(viscosity.u[k], lead, doubt?.[name] ?? 0),
      u95_k: Math.hypot(viscosity.u95[k], 2 * lead, 2 * (doubt?.[name] ?? 0)),
    }]));
    const { t_c, u_k, u95_k } = points.annealing;
    points.strain = { t_c: t_c - rule.below_annealing_k, u_k: Math.hypot(u_k, rule.u_k), u95_k: Math.hypot(u95_k, 2 * rule.u_k) };
    return points;
  }

  range(viscosity, shares, doubt) {
    let square = 0;
    let weights = 0;
    for (const v of viscosity.used) {
      const u = this.uOf(v.model.key, shares, v.edge, "range");
      if (!Number.isFinite(u)) continue;
      const weight = 1 / v.u[1] ** 2;
      square += weight * u ** 2;
      weights += weight;
    }
    const [to_c, from_c] = viscosity.value;
    const [c68, c95] = ["c68", "c95"].map((what) => this.calibrated(viscosity.state, shares, "range", what));
    const half = (factor, times) => (weights > 0 ? Math.hypot(Math.sqrt(square / weights) * factor, times * (doubt?.range ?? 0)) : null);
    return { width_k: to_c - from_c, u_k: half(c68, 1), u95_k: half(c95, 2), from_c, to_c };
  }

  // where the models erred mostly to one side in this family: bias is model minus measured
  oneSided(viscosity, points, family) {
    const rule = this.data.rules.one_sided;
    return rule.points.flatMap((point) => {
      const bias = viscosity.bias[POINTS.indexOf(point)];
      const size = Math.abs(bias);
      if (!(size >= rule.least_k && size >= rule.least_share_of_u * points[point].u_k)) return [];
      const doubted = family.doubted?.[point];
      return [this.note(`${bias < 0 ? "hotter" : "cooler"}_${point}`, { bias: size }), ...(doubted ? [this.note(doubted, {})] : [])];
    });
  }

  apart(viscosity, expansion, points) {
    const asked = [...(points ? [["apart_working", viscosity, 0], ["apart_softening", viscosity, 1]] : []), ["apart_expansion", expansion, 0]];
    return asked.map(([code, combined, level]) => [code, furthestApart(combined, level)])
      .filter(([, found]) => found).map(([code, found]) => this.note(code, found));
  }

  modelNotes(viscosity, state, expansion, glass, open) {
    const answered = state <= EXTRAPOLATED;
    const lead = glass.wt.PbO;
    const hazards = this.data.rules.hazards.map(({ code, of, above_wt }) => [code, sumOf(of, glass.wt) > above_wt + EPS, { amount: sumOf(of, glass.wt) }]);
    return [
      ...hazards,
      ["no_viscosity_model", open && viscosity.state > EXTRAPOLATED, {}],
      ["no_sound_curve", open && viscosity.state <= EXTRAPOLATED && !answered, {}],
      ["viscosity_extrapolated", state === EXTRAPOLATED, {}],
      ["expansion_extrapolated", expansion.state === EXTRAPOLATED, {}],
      ["no_expansion_model", open && expansion.state > EXTRAPOLATED, {}],
      ["lead_widened", answered && lead > this.data.rules.lead.widen_above_wt, { lead }],
    ].filter(([, holds]) => holds).map(([code, , values]) => this.note(code, values));
  }

  verdict(v, family, hasAnalysis, used) {
    const answered = v.state <= EXTRAPOLATED;
    const props = v.model.quantity === "viscosity" ? LEVEL_KEYS : ["alpha"];
    return {
      model: v.model.key,
      quantity: v.model.quantity,
      state: STATES[v.state],
      used: used.includes(v),
      values: answered ? v.values : null,
      u: answered ? v.u : null,
      broken: v.broken,
      ignored_wt: hasAnalysis ? v.ignored : 0,
      record: answered ? props.map((prop) => this.cell(v.model.key, family, v.side, prop)) : null,
    };
  }
}

function positive(row) {
  return Object.fromEntries(Object.entries(row).filter(([, value]) => value > 0));
}

function status(viscosityState, expansionState, notes) {
  if (viscosityState > EXTRAPOLATED) return "refused";
  const distrust = notes.some((n) => n.code === "total_trust" || n.code === "weathered_suspect");
  return distrust || viscosityState === EXTRAPOLATED || expansionState === EXTRAPOLATED ? "extrapolated" : "ok";
}

function alphaOf(expansion, doubt) {
  if (expansion.state > EXTRAPOLATED) return null;
  const more = doubt?.alpha ?? 0;
  const [u, u95] = [Math.hypot(expansion.u[0], more), Math.hypot(expansion.u95[0], 2 * more)];
  return { value_1e7_k: expansion.value[0], u_1e7_k: u, u95_1e7_k: u95, state: STATES[expansion.state] };
}

export function vftThrough([l1, l2, l3], [t1, t2, t3]) {
  const ratio = ((t1 - t2) * (l3 - l2)) / ((t2 - t3) * (l2 - l1));
  const a = (ratio * l1 - l3) / (ratio - 1);
  const b = (t1 - t2) / (1 / (l1 - a) - 1 / (l2 - a));
  const t0_c = t1 - b / (l1 - a);
  const sound = t1 > t2 && t2 > t3 && ratio > 1 && b > 0 && t0_c < t3 && a < l1;
  return sound ? { a, b, t0_c } : null;
}

export function logEta(vft, temperature_c) {
  return vft.a + vft.b / (temperature_c - vft.t0_c);
}

export function isokom(vft, log_eta_dpas) {
  return vft.t0_c + vft.b / (log_eta_dpas - vft.a);
}
