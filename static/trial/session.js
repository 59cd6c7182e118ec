// The entries of a session, with its trials -> how it stands. A trial belongs to a run by what its start says.
import { bySubject, localEntries } from "../web/merged.js";
import { everyTrial, nameOf } from "./trials.js";

const SETTLED = new Set(["kept", "abandoned"]);

function runState(index, trials, elsewhere) {
  const own = trials.filter((trial) => trial.setup.run === index);
  const trial = own.find((t) => t.status === "kept") ?? own.find((t) => !SETTLED.has(t.status)) ?? own[0] ?? null;
  const other = elsewhere.get(index);
  const state = trial ? { kept: "kept", abandoned: "stopped" }[trial.status] ?? "running" : other?.state ?? "waiting";
  return { state, trial, why: other?.why ?? "" };
}

/** {id, plan, conditions, runs, next, count, isOpen, isCovered, shown}: runs with state waiting, running, kept, stopped, skipped or done; next is the index of the run that comes, null for none. */
export function sessionFrom(entries, trials) {
  const made = entries.find((entry) => entry.kind === "plan.made");
  if (!made) return null;
  const ofKind = (kind) => entries.filter((entry) => entry.kind === kind);
  const elsewhere = new Map();
  for (const { kind, body } of [...ofKind("plan.skipped"), ...ofKind("plan.done")]) elsewhere.set(body.run, { state: kind === "plan.done" ? "done" : "skipped", why: body.why });
  const own = trials.filter((trial) => trial.setup?.session === made.subject);
  const runs = made.body.runs.map((run, index) => ({ ...run, index, ...runState(index, own, elsewhere) }));
  const next = runs.find((run) => ["waiting", "running"].includes(run.state))?.index ?? null;
  const isOpen = ofKind("plan.closed").length === 0;
  return {
    id: made.subject,
    made_ms: made.at_ms,
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

/** Every session on this tablet, newest first. */
export async function allSessions() {
  const [entries, trials] = await Promise.all([localEntries("plan"), everyTrial()]);
  const found = [...bySubject(entries).values()].map((own) => sessionFrom(own, trials)).filter(Boolean);
  return found.sort((a, b) => b.made_ms - a.made_ms);
}

/** What a glass of a plan is called. */
export function plannedName(glass) {
  return glass.piece || glass.name;
}

/** What may be said of a trial here: in a covered session the code on its dish and nothing else. */
export function shownName(trial, sessions) {
  const session = sessions.find((one) => one.id === trial.setup?.session);
  return session?.isCovered ? `Dish ${trial.setup.code}` : nameOf(trial.setup);
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
