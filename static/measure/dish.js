// A run of a session as the start of a test: which glasses it takes, and on which dishes they lie. The dishes of a fuse session go onto one board together.
import { allSessions, askDesk, boardOf, plannedName } from "../plan/session.js";
import { LETTERS, kind } from "./kind.js";

const BOARDS = [[3, 4], [4, 6], [6, 8]];

// Every second square of the smallest board that holds them, so that no chip flows into another.
function squares(count) {
  const [columns, rows] = BOARDS.find(([x, y]) => (x * y) / 2 >= count);
  const all = Array.from({ length: rows }, (_x, row) => [..."abcdef"].slice(0, columns).filter((_letter, column) => (row + column) % 2 === 0).map((letter) => `${letter}${row + 1}`));
  return all.flat().slice(0, count);
}

// The glass of the reference stands first: that of the dish is pulled, or bent, against it.
function glassesOf({ reference }, runs) {
  if (kind.test === "pull" || kind.test === "thread") return [reference, runs[0].glass];
  return [...new Set(runs.map(({ glass }) => glass))].sort((a, b) => a - b);
}

function entryOf(glass, mass_g) {
  return { key: glass.key, name: glass.name || glass.piece, piece_id: glass.piece_id, piece: glass.piece, mass_g: glass.piece_id ? Math.round(mass_g * 1e6) / 1e6 : null };
}

function dishesOf(runs, order) {
  const places = kind.test === "fuse" ? squares(runs.length) : [""];
  return runs.map((run, i) => ({ run: run.index, code: run.code, letter: LETTERS[order.lastIndexOf(run.glass)], place: places[i] }));
}

/** The glasses of a run, with the hands that the form asks of its chooser; and what the start says of the session. */
class Dishes {
  constructor(session, runs, mass_g) {
    const { plan } = session;
    const order = glassesOf(plan, runs);
    this.session = session;
    this.dishes = dishesOf(runs, order);
    this.entries = order.map((place) => entryOf(plan.glasses[place], mass_g * runs.filter(({ glass }) => glass === place).length));
    this.chosen = order.map((place) => ({ name: plannedName(plan.glasses[place]), piece: null }));
    this.letters = { reference: LETTERS[Math.max(0, order.indexOf(plan.reference))], piece: "A" };
  }

  get isCovered() {
    return this.session.isCovered;
  }

  async load() {}

  glasses() {
    return this.entries;
  }

  /** The keeper's consent stands in the plan; what speaks against a piece, the session has said. */
  areAllKnown() {
    return true;
  }

  objections() {
    return { blocks: [], warns: [] };
  }

  hasPieces() {
    return this.entries.some(({ piece }) => piece !== null);
  }

  /** What lies in it, as far as it may be told. */
  words() {
    if (kind.test === "fuse") return `Onto the board, each chip on a square of its own: ${this.dishes.map(({ code }) => code).join(", ")}.`;
    const dish = `dish ${this.dishes[0].code}`;
    const [first, second] = this.chosen.map(({ name }) => name);
    if (!second) return this.isCovered ? `What lies in ${dish}.` : `${first}, ${dish}.`;
    return this.isCovered ? `A is the reference, B lies in ${dish}.` : `A is the reference, ${first}. B is ${second}, ${dish}.`;
  }
}

/** The run that an address {s, r, mass} names, ready to begin. null where there is none to begin: no such open session, or its test has begun; then `onBegun(test id)`. */
export async function askedRun(asked, onBegun) {
  const found = async () => (await allSessions()).find(({ id }) => id === asked.get("s"));
  const session = (await found()) ?? (await askDesk(), await found());
  const run = session?.runs[Number(asked.get("r"))];
  if (!run || !session.isOpen || session.plan.test !== kind.test) return null;
  if (run.state !== "waiting") return run.test ? onBegun(run.test.id) : null;
  const runs = kind.test === "fuse" ? boardOf(session) : [run];
  return runs && new Dishes(session, runs, Number(asked.get("mass")) || session.plan.mass_g);
}
