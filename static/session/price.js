// What a plan costs in runs, glass and time, and what it can show. A plan here is {test, glasses, reference, repeats}.
import { grams } from "../find/sentences.js";
import { KINDS, isAgainst } from "./kinds.js";
import { leastApart, repeatsApart } from "./power.js";

/** Runs of the reference: at the start, in the middle and at the end; a single run has no middle. */
export function referenceRuns(tested) {
  return tested > 1 ? 3 : 2;
}

function testedRuns({ glasses, reference, repeats }) {
  return repeats * (glasses.length - (reference === null ? 0 : 1));
}

export function runCount(plan) {
  const tested = testedRuns(plan);
  return plan.reference === null ? tested : tested + referenceRuns(tested);
}

/** How many times the mass of one run is taken from a glass. A reference that lies in every run lies twice in its own. */
export function portionsOf(plan, index) {
  if (index !== plan.reference) return plan.repeats;
  const own = referenceRuns(testedRuns(plan));
  return isAgainst(plan.test) ? testedRuns(plan) + 2 * own : own;
}

function duration(minutes) {
  const whole = Math.round(minutes);
  return whole < 60 ? `${whole} min` : `${Math.floor(whole / 60)} h ${whole % 60} min`;
}

export function costWords(plan, mass, minutes) {
  if (plan.glasses.length < 2 || !mass || !minutes) return "";
  const count = runCount(plan);
  const long = duration(count * minutes);
  const told = plan.test === "fuse" ? `${count} chips in one firing, about ${long} of laying and measuring` : `${count} runs, about ${long}`;
  const reference = plan.reference === null ? "" : `, ${grams(portionsOf(plan, plan.reference) * mass)} g of the reference`;
  return `${told}. ${grams(plan.repeats * mass)} g of each glass${reference}.`;
}

// A difference as the person says it, and as the test sees it: of logarithms, or plain.
const seen = ({ isRatio }, apart) => (isRatio ? Math.log(1 + apart / 100) : apart);
const said = ({ isRatio, unit }, apart) => `${Math.ceil(isRatio ? 100 * (Math.exp(apart) - 1) : apart)} ${unit}`;

function scatterWords(kind, { sd, df, count }) {
  const size = kind.isRatio ? `${Math.round(100 * sd)} %` : `${sd} ${kind.unit}`;
  return df ? `so far ${kind.what} of one glass scatter by ${size} (${count} trials on this tablet)` : `a scatter of ${size} within a glass is assumed (judgement: too few repeats on this tablet)`;
}

function neededBetween(kind, sd, apart) {
  const needed = repeatsApart(sd, seen(kind, apart));
  return `To see ${apart} ${kind.unit} between two glasses you need ${needed === null ? "more than 200 repeats" : `${needed} repeats`} of each.`;
}

// The reference has its few runs whatever is planned.
function neededAgainst(kind, sd, apart, own) {
  const needed = repeatsApart(sd, seen(kind, apart), own);
  const told = `To see ${apart} ${kind.unit} against the reference`;
  return needed === null ? `${told} no number of repeats is enough, since it is run only ${own} times itself.` : `${told} you need ${needed} repeat${needed === 1 ? "" : "s"}.`;
}

/** Two glasses against each other, and each against the reference, which has its own few runs. scatter: {sd, df, count}. */
export function powerWords(plan, scatter, apart) {
  const [kind, { repeats }, { sd }] = [KINDS[plan.test], plan, scatter];
  const tested = plan.glasses.length - (plan.reference === null ? 0 : 1);
  const own = referenceRuns(repeats * tested);
  const against = plan.reference === null ? null : leastApart(sd, repeats, own);
  const between = tested > 1 || plan.reference === null ? leastApart(sd, repeats) : null;
  const told = [
    between === null ? "" : `Between two glasses, ${repeats} repeats each show differences from about ${said(kind, between)} on.`,
    against === null ? "" : `Against the reference and its ${own} runs, from about ${said(kind, against)} on.`,
    repeats === 1 ? "One run of a glass tells no scatter of its own." : "",
  ];
  if (apart > 0) told.push(between === null && against !== null ? neededAgainst(kind, sd, apart, own) : neededBetween(kind, sd, apart));
  return `${told.filter(Boolean).join(" ")} Eight times in ten; ${scatterWords(kind, scatter)}.`;
}
