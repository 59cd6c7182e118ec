// What counts of the statements about a find or piece: its facts, and what its keeper allows. Pure; the twin of server/find/statements.py, and a test holds both together.
import { disagree, latest } from "../web/latest.js";

const STRICTER = ["given", "asked", "refused"];

/** The body of an entry with its number and moment, without pictures. */
export function toldOf({ id, at_ms, body: { jpeg: _jpeg, over: _over, ...rest } }) {
  return { entry: id, at_ms, ...rest };
}

function least(statements, name) {
  const limits = statements.map(({ body }) => body[name]).filter((limit_g) => limit_g !== null);
  return limits.length ? Math.min(...limits) : null;
}

/** What counts of the latest statements of the keeper: the strictest, and where all of them agree to tests, what all of them allow. */
export function consentOf(statements) {
  if (!statements.length) return null;
  const strictest = STRICTER[Math.max(...statements.map(({ body }) => STRICTER.indexOf(body.state)))];
  const counts = toldOf(statements.findLast(({ body }) => body.state === strictest));
  if (strictest !== "given") return counts;
  const tests = counts.tests.filter((test) => statements.every(({ body }) => body.tests.includes(test)));
  return { ...counts, tests, limit_g: least(statements, "limit_g"), limit_piece_g: least(statements, "limit_piece_g") };
}

/** All statements of one matter, by the find or piece that they are about, in the order in which it was first heard of. */
export class Statements {
  every = new Map();

  add(entry) {
    if (!this.every.has(entry.subject)) this.every.set(entry.subject, []);
    this.every.get(entry.subject).push(entry);
  }

  latest(subject) {
    return latest(this.every.get(subject) ?? []);
  }
}

/** Their numbers, for a new one that comes after them. */
export const numbers = (statements) => statements.map(({ id }) => id);

/** The matters of which the latest statements say different things. */
export function unsettled(matters) {
  return Object.keys(matters).filter((matter) => disagree(matters[matter]));
}
