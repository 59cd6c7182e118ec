// Why a model, or every model of a quantity, may not answer: the twin of server/physics/refusal.py and report.py why().
import { EPS } from "./evaluate.js";

const LOW = "₀₁₂₃₄₅₆₇₈₉";

/** A sentence with the figures of its formulas set low. */
export function formulas(text) {
  return text.replace(/(?<=[A-Z)])\d+|(?<=[A-Z][a-z])\d+/g, (digits) => digits.replace(/\d/g, (d) => LOW[d]));
}

// As many decimals as show on which side of the limit the value lies.
function figures(value, limit) {
  const told = [1, 2, 3, 4, 5, 6, 7].map((digits) => value.toFixed(digits)).find((text) => Number(text) !== limit && Number(text) > limit === value > limit);
  return [told ?? value.toFixed(7), String(limit)].map((text) => text.replace("-", "−"));
}

function valueOf(bound, report) {
  const sum = (names) => (names ?? []).reduce((total, name) => total + (report[bound.unit][name] ?? 0), 0);
  return sum(bound.of) - sum(bound.minus);
}

function subject({ of, minus }) {
  return of.join(" + ") + (minus?.length ? ` less ${minus.join(" + ")}` : "");
}

// [side, words] of what a bound says where the glass passes it, else null
function passed(bound, report) {
  const value = valueOf(bound, report);
  const below = "min" in bound && value < bound.min - EPS;
  if (!below && !("max" in bound && value > bound.max + EPS)) return null;
  const [told, limit] = figures(value, below ? bound.min : bound.max);
  return [below ? "below" : "above", { what: subject(bound), value: told, limit, unit: bound.unit }];
}

/** In words, why one model stood aside, was refused or was stretched; empty where it simply answered. */
export function why(tool, verdict, model, report) {
  const refused = verdict.state === "refused";
  const limits = refused && model.reach ? model.reach : model.bounds;
  const found = limits[verdict.broken] && passed(limits[verdict.broken], report);
  if (found) return tool.sentence(...found);
  const rule = tool.data.rules.ignored;
  if (verdict.ignored_wt > rule[refused ? "refuse_above_wt" : "note_above_wt"]) return tool.sentence("ignored", { value: verdict.ignored_wt });
  if (model.domain && verdict.broken === limits.length) return tool.sentence("far_from_measured", {});
  return refused ? tool.sentence("not_counted", {}) : "";
}

// What every one of the models limits on the same side, each with its loosest limit.
function sharedLimits(asked) {
  const found = new Map();
  for (const model of asked) {
    for (const bound of model.reach ?? model.bounds) {
      for (const end of ["min", "max"].filter((name) => name in bound)) {
        const key = JSON.stringify([end, bound.of, bound.minus ?? [], bound.unit]);
        found.set(key, [...(found.get(key) ?? []), bound[end]]);
      }
    }
  }
  return [...found].filter(([, limits]) => limits.length === asked.length).map(([key, limits]) => {
    const [end, of, minus, unit] = JSON.parse(key);
    return { of, minus, unit, [end]: Math[end](...limits) };
  });
}

/** Why no model of a quantity may answer: the limits that all of them share, else what each that may be carried further says. */
export function whyNone(tool, report, quantity) {
  const models = tool.data.models.filter((model) => model.quantity === quantity);
  const wide = models.filter((model) => model.reach);
  for (const [which, asked] of [["all", models], ["wide", wide]]) {
    const parts = sharedLimits(asked).map((bound) => passed(bound, report)).filter(Boolean);
    if (parts.length) return parts.map(([side, words]) => tool.sentence(`${side}_${which}`, words)).join("; ");
  }
  const said = new Map();
  for (const model of wide) {
    const reason = why(tool, report.verdicts.find((v) => v.model === model.key), model, report);
    if (reason) said.set(reason, [...(said.get(reason) ?? []), model.name]);
  }
  return [...said].map(([reason, names]) => `${names.join(", ")}: ${reason}`).join("; ");
}
