// The entries of a session, with the tests that name it -> how it stands. A test of whatever kind belongs to a run by what its start says: {session, run, code},
// or {session, dishes: [{run, code, letter, place}]} where it holds several; `<domain>.kept` and `<domain>.abandoned` end it. Nothing else of it is read here.
import { askedOfDesk, bySubject, localEntries, onceEach } from "../web/merged.js";
import { disagree, latest } from "../web/latest.js";
import { entriesOfDomain } from "../web/outbox.js";

const desk = { entries: [], tests: [] }; // as the desk last told it to this page

/** Ask the desk for what other tablets planned, ended and made; allSessions() counts it from then on. Takes a while, and changes nothing where the desk is away. */
export async function askDesk() {
  Object.assign(desk, (await askedOfDesk("/bench/sessions.json")) ?? {});
}

function runsIn(body) {
  return body.dishes ? body.dishes.map(({ run }) => run) : [body.run];
}

function statusOf(entries) {
  const words = new Set(entries.map(({ kind }) => kind.split(".")[1]));
  return words.has("abandoned") ? "stopped" : words.has("kept") ? "kept" : "running";
}

// Tests that name a session: {id, domain, body (of the latest start), runs, status, newest}; the first one made comes first. The desk tells those of other tablets (server/session/tested.py).
async function testsOfSessions() {
  const found = await Promise.all([entriesOfDomain("trial"), entriesOfDomain("measure", "measure.photo")]);
  const tests = [...bySubject(found.flat()).entries()].map(([id, entries]) => {
    const start = entries.filter(({ kind }) => kind.endsWith(".started")).sort((a, b) => a.n - b.n).at(-1);
    const newest = entries.reduce((a, entry) => (entry.id > a ? entry.id : a), "");
    return start?.body.session ? { id, domain: start.kind.split(".")[0], body: start.body, runs: runsIn(start.body), status: statusOf(entries), newest } : null;
  });
  const once = new Map([...desk.tests, ...tests.filter(Boolean)].map((test) => [test.id, test]));
  return [...once.values()].sort((a, b) => (a.id < b.id ? -1 : 1));
}

// The first kept test counts, else the one that is being made, else the last one stopped; what was said of the run later than that goes before it.
function runState(index, tests, elsewhere) {
  const own = tests.filter((test) => test.runs.includes(index));
  const other = elsewhere.get(index);
  const kept = own.find((test) => test.status === "kept");
  if (kept) return { state: "kept", test: kept, why: "" };
  const test = own.findLast(({ status }) => status === "running") ?? own.at(-1) ?? null;
  if (!test) return { state: other?.state ?? "waiting", test, why: other?.why ?? "" };
  if (other && other.id > test.newest) return { state: other.state, test, why: other.why };
  return { state: test.status, test, why: "" };
}

const STATES = { "plan.skipped": "skipped", "plan.done": "done", "plan.reopened": "waiting" };

// What was said of each run: Map of its index -> the latest of these statements, of which the last counts. The twin of server/plan/said.py.
function saidOfRuns(entries) {
  const told = entries.filter(({ kind }) => STATES[kind]);
  return new Map(told.map(({ body }) => [body.run, latest(told.filter((one) => one.body.run === body.run))]));
}

const numbers = (statements) => (statements ?? []).map(({ id }) => id);
const differ = (statements, what) => disagree(statements.map((one) => ({ body: { said: what(one) } })));

/**
 * {id, made_ms, device, plan, conditions, runs, next, count, isOpen, isCovered, told, latest, unsettled}: runs with state waiting, running, kept, stopped, skipped or done, and `test`, the one that counts or null;
 * next is the index of the run that comes, null for none; told are the entries after the plan; latest: {conditions, of(run index)}, numbers of the statements that a new one comes after;
 * unsettled: the matters ("conditions" or the code of a dish) of which devices that had not heard of each other said different things.
 */
export function sessionFrom(entries, tests) {
  const made = entries.find((entry) => entry.kind === "plan.made");
  if (!made) return null;
  const ofKind = (kind) => entries.filter((entry) => entry.kind === kind);
  const [said, changed] = [saidOfRuns(entries), latest(ofKind("plan.conditions"))];
  const elsewhere = new Map([...said].map(([run, statements]) => [run, { id: statements.at(-1).id, state: STATES[statements.at(-1).kind], why: statements.at(-1).body.why }]));
  const own = tests.filter((test) => test.body.session === made.subject);
  const runs = made.body.runs.map((run, index) => ({ ...run, index, ...runState(index, own, elsewhere) }));
  const next = (runs.find(({ state }) => state === "running") ?? runs.find(({ state }) => state === "waiting"))?.index ?? null;
  const isOpen = ofKind("plan.closed").length === 0;
  const apart = [...said].filter(([run, statements]) => runs[run] && runs[run].state !== "kept" && differ(statements, ({ kind }) => kind)).map(([run]) => runs[run].code);
  return {
    id: made.subject,
    made_ms: made.at_ms,
    device: made.device,
    plan: made.body,
    conditions: changed.at(-1)?.body.conditions ?? made.body.conditions,
    runs,
    next: isOpen ? next : null,
    count: runs.filter(({ state }) => !["waiting", "running"].includes(state)).length,
    isOpen,
    isCovered: made.body.is_blind && isOpen && !ofKind("plan.unblinded").some(({ body }) => body.what === "all"),
    told: entries.filter((entry) => entry.kind !== "plan.made"),
    latest: { conditions: numbers(changed), of: (run) => numbers(said.get(run)) },
    unsettled: [...(isOpen && differ(changed, ({ body }) => body.conditions) ? ["conditions"] : []), ...apart],
  };
}

/** Every session of this tablet, newest first; of the others too once the desk was asked. */
export async function allSessions() {
  const [entries, tests] = await Promise.all([localEntries("plan"), testsOfSessions()]);
  const found = [...bySubject(onceEach([...desk.entries, ...entries])).values()].map((own) => sessionFrom(own, tests)).filter(Boolean);
  return found.sort((a, b) => b.made_ms - a.made_ms);
}

/** What a glass of a plan is called. */
export function plannedName(glass) {
  return glass.piece || glass.name;
}

/** True for a test (by the body of its start) of a session that is still covered, or not known here. */
export function isCoveredHere(setup, sessions) {
  return Boolean(setup?.session) && (sessions.find((one) => one.id === setup.session)?.isCovered ?? true);
}

/** The runs that one more board of a fuse session takes: those that wait, and a chip of the reference, laid once more where its dishes are through. null where every dish of the reference was left out. */
export function boardOf({ plan, runs }) {
  const waiting = runs.filter(({ state }) => state === "waiting");
  if (plan.reference === null || waiting.some((run) => run.is_reference)) return waiting;
  const again = runs.find((run) => run.is_reference && run.state !== "skipped");
  return again ? [again, ...waiting] : null;
}

/** Open sessions with the runs whose glass the ledger does not count as gone yet, for what they set aside. While one is covered all its runs count: what a left-out dish sets free would tell what lay in it. */
export function settingAside(sessions) {
  return sessions.filter((one) => one.isOpen).map(({ plan, runs, isCovered }) => {
    const ahead = runs.filter(({ state }) => isCovered || state === "waiting");
    return { glasses: plan.glasses, mass_g: plan.mass_g, runs: ahead.map(({ glass }) => ({ glass })) };
  });
}
