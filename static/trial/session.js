// The entries of a session, with its trials -> how it stands. A trial belongs to a run by what its start says.
import { bySubject, localEntries, mergedEntries } from "../web/merged.js";
import { everyTrial, nameOf } from "./trials.js";

const SETTLED = new Set(["kept", "abandoned"]);

// The first kept trial counts, else the one that is being made, else the last one stopped, unless the run was opened again after that.
function runState(index, trials, elsewhere) {
  const own = trials.filter((trial) => trial.setup.run === index);
  const other = elsewhere.get(index);
  const kept = own.find((t) => t.status === "kept");
  if (kept) return { state: "kept", trial: kept, why: "" };
  const open = own.find((t) => !SETTLED.has(t.status));
  if (other && other.state !== "waiting" && open?.status !== "running") return { ...other, trial: open ?? own.at(-1) ?? null };
  if (open) return { state: "running", trial: open, why: "" };
  const stopped = own.at(-1) ?? null;
  const isOpenAgain = !stopped || (other?.state === "waiting" && other.id > stopped.newest);
  return { state: isOpenAgain ? "waiting" : "stopped", trial: stopped, why: "" };
}

/** {id, plan, conditions, runs, next, count, isOpen, isCovered, shown}: runs with state waiting, running, kept, stopped, skipped or done; next is the index of the run that comes, null for none. */
export function sessionFrom(entries, trials) {
  const made = entries.find((entry) => entry.kind === "plan.made");
  if (!made) return null;
  const ofKind = (kind) => entries.filter((entry) => entry.kind === kind);
  const states = { "plan.skipped": "skipped", "plan.done": "done", "plan.reopened": "waiting" };
  const elsewhere = new Map();
  for (const { id, kind, body } of entries.filter((entry) => states[entry.kind])) elsewhere.set(body.run, { id, state: states[kind], why: body.why });
  const own = trials.filter((trial) => trial.setup?.session === made.subject).reverse(); // the first one made comes first
  const runs = made.body.runs.map((run, index) => ({ ...run, index, ...runState(index, own, elsewhere) }));
  const next = runs.find((run) => ["waiting", "running"].includes(run.state))?.index ?? null;
  const isOpen = ofKind("plan.closed").length === 0;
  return {
    id: made.subject,
    made_ms: made.at_ms,
    device: made.device,
    plan: made.body,
    conditions: ofKind("plan.conditions").at(-1)?.body.conditions ?? made.body.conditions,
    runs,
    next: isOpen ? next : null,
    count: runs.filter((run) => run.state !== "waiting").length,
    isOpen,
    isCovered: made.body.is_blind && isOpen && !ofKind("plan.unblinded").some(({ body }) => body.what === "all"),
    shown: ofKind("plan.unblinded").map(({ at_ms, body }) => ({ at_ms, ...body })),
  };
}

/** Every session on this tablet, newest first; with the desk's too where that is wanted and it may take a while. */
export async function allSessions({ withDesk = false } = {}) {
  const [entries, trials] = await Promise.all([withDesk ? mergedEntries("/bench/sessions.json", "plan") : localEntries("plan"), everyTrial()]);
  const found = [...bySubject(entries).values()].map((own) => sessionFrom(own, trials)).filter(Boolean);
  return found.sort((a, b) => b.made_ms - a.made_ms);
}

/** What a glass of a plan is called. */
export function plannedName(glass) {
  return glass.piece || glass.name;
}

/** What may be said of a trial here: in a covered session the code on its dish and nothing else. */
export function shownName(trial, sessions) {
  return isCoveredHere(trial.setup, sessions) ? `Dish ${trial.setup.code}` : nameOf(trial.setup);
}

/** True for a trial of a session that is still covered, or not known here. */
export function isCoveredHere(setup, sessions) {
  return Boolean(setup?.session) && (sessions.find((one) => one.id === setup.session)?.isCovered ?? true);
}

/** Open sessions with the runs whose glass the ledger does not count as gone yet, for what they set aside. */
export function settingAside(sessions) {
  return sessions.filter((one) => one.isOpen).map(({ plan, runs, isCovered }) => {
    const ahead = runs.filter(({ state }) => (isCovered ? state !== "skipped" : state === "waiting"));
    return { glasses: plan.glasses, mass_g: plan.mass_g, runs: ahead.map(({ glass }) => ({ glass })) };
  });
}

/** The setup of a run's trial, as the draft of the run page takes it. checked: what the person has looked at. */
export function setupOfRun({ id, plan, conditions }, index, mass_g, checked) {
  const run = plan.runs[index];
  const glass = plan.glasses[run.glass];
  const distance = conditions.distance_cm === null ? "" : `${conditions.distance_cm} cm`;
  const torch = [conditions.torch, conditions.nozzle, conditions.fuel, conditions.cylinder, distance, conditions.holder].filter(Boolean).join(", ");
  return {
    glass_key: glass.key,
    glass_name: glass.name,
    piece: glass.piece,
    consent: glass.consent,
    keeper: null,
    mass_g,
    preheat_c: plan.preheat_c,
    torch: torch.slice(0, 500),
    operator: conditions.operator || null,
    ...(glass.piece_id ? { piece_id: glass.piece_id } : {}),
    session: id,
    run: index,
    code: run.code,
    ...(checked.length ? { checked } : {}),
  };
}
