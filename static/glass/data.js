// What the glass pages read: the model bundle and the glasses, from the tablet's own copy when the desk is away.
import { entriesOfKind } from "../web/outbox.js";
import { plain } from "../web/search.js";
import { Estimator } from "./estimate.js";

async function json(path) {
  const answer = await fetch(path, { signal: AbortSignal.timeout(8000) });
  if (!answer.ok) throw new Error(`${path}: ${answer.status}`);
  return answer.json();
}

let made;

/** The one evaluator of this page. */
export function estimator() {
  made ??= json("/glass/models.json").then((data) => new Estimator(data));
  return made;
}

/** Amounts of a glass as typed -> wt% by oxide. Throws BadComposition. */
export function wtOfTyped(estimator, typed) {
  const { composition } = estimator;
  return composition.wtOf(typed.map((a) => composition.amount(a.name, a.text, a.unit)));
}

/** Whether what was analysed tells nothing of the glass beneath. */
export function isWeathered({ surface, method }) {
  return surface === "weathered" || method === "weathered-surface";
}

/** One standard deviation in wt% by oxide, by the method, or more where more was given; the same rule as server/glass/own.py. */
export function sdOfTyped(tool, wt, { method, amounts }) {
  const { composition } = tool;
  const sd = tool.defaultSd(wt, method ?? "not stated");
  for (const a of amounts.filter((x) => x.sd !== undefined && x.sd !== null)) {
    const name = a.unit === "ppm" ? composition.data.oxide_of_element[a.name] : a.name;
    const given = a.unit === "ppm" ? composition.wtFromPpm(a.name, a.sd) : a.sd;
    if (a.unit !== "mol") sd[name] = Math.max(sd[name], given);
  }
  return sd;
}

/** The curve picture's summary of a report (server/glass/view.py curve()). */
export function curveOf(key, name, report) {
  if (!report.vft) return null;
  const pick = (names, field) => Object.fromEntries(names.map((n) => [n, report.points[n][field]]));
  return {
    key, name, status: report.status, vft: report.vft,
    u: pick(["working", "softening", "annealing"], "u_k"),
    points: pick(["strain", "annealing", "softening", "working"], "t_c"),
  };
}

function positive(wt) {
  return Object.fromEntries(Object.entries(wt).filter(([, share]) => share > 0));
}

/** Keys of the glasses that went into one, and of that which it copies (server/glass/recipe.py origins()). */
function originsOf(made) {
  return made ? { of: made.glasses.map(({ key }) => key), copies: made.after?.key ?? "" } : {};
}

async function waitingGlasses() {
  const entries = (await entriesOfKind("glass.added")).filter((entry) => entry.state !== "sent");
  if (!entries.length) return [];
  const tool = await estimator();
  return entries.map(({ subject, body }) => {
    const wt = wtOfTyped(tool, body.amounts);
    const report = tool.estimate(wt, isWeathered(body), sdOfTyped(tool, wt, body));
    const alpha = report.alpha && [report.alpha.value_1e7_k, report.alpha.u_1e7_k];
    const words = plain(`${body.name} ${body.family} ${body.period} ${body.region}`);
    return { key: `own/${subject}`, ...originsOf(body.made), isWaiting: true, name: body.name, family: body.family, source: body.source, words, status: report.status, alpha, curve: curveOf(`own/${subject}`, body.name, report), wt: positive(wt), method: body.method ?? "not stated", weathered: isWeathered(body) };
  });
}

/** The user's own glasses: not yet sent, then the desk's. */
export async function ownGlasses() {
  return (await Promise.all([waitingGlasses(), json("/glass/own.json").catch(() => [])])).flat();
}

/** Every glass that can be compared: own ones, the catalogue. */
export async function allGlasses() {
  return (await Promise.all([ownGlasses(), json("/glass/catalogue.json")])).flat();
}
