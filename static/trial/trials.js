// The entries of a trial -> how it stands, for display. Same rule as server/trial/timing.py; a test holds both together.
import { allHeld } from "../web/held.js";
import { entriesOfDomain, entriesOfKind } from "../web/outbox.js";
import { elapsed } from "./clock.js";
import { STAGES } from "./stages.js";

const SPANS = { sag: ["flame_in", "sagged"], round: ["flame_in", "round"], out: ["flame_in", "flame_out"], glow: ["flame_out", "glow_gone"] };
const SPAN_OF = { sagged: "sag", round: "round", flame_out: "out", glow_gone: "glow" };

function inOrder(entries) {
  const once = [...new Map(entries.map((entry) => [entry.id, entry])).values()];
  return once.sort((a, b) => a.n - b.n || a.at_ms - b.at_ms || (a.id < b.id ? -1 : 1));
}

function moved(id, n, stamp, shift_ms = 0) {
  return { id, n, ...stamp, wall_ms: stamp.wall_ms + shift_ms, mono_ms: stamp.mono_ms + shift_ms, shift_ms };
}

function pressOf({ id, n, kind, body }, shifts) {
  return moved(id, n, kind === "trial.started" ? body.press : body, shifts.get(id));
}

// The press as the glass left the kiln, which travels inside the start.
function kilnOf(start, shifts) {
  const stamp = start?.body.out_of_kiln;
  return stamp ? moved(start.id, start.n, stamp, shifts.get(`${start.id} kiln_out`)) : null;
}

function spanOf(presses, every, [start, end]) {
  const [first, second] = [presses[start], presses[end]];
  if (!first || !second) return null;
  const hidden = every.some((p) => first.n < p.n && p.n <= second.n && p.was_hidden);
  return elapsed(first, second, hidden);
}

function statusOf(kinds, valid, isOrdered) {
  if (kinds.has("trial.abandoned")) return "abandoned";
  if (!kinds.has("trial.started") || !isOrdered) return "incomplete";
  if (valid.length === STAGES.length) return kinds.has("trial.kept") ? "kept" : "done";
  if (kinds.has("trial.kept")) return "incomplete";
  return valid.length ? "running" : "ready";
}

/** {id, status, setup, kiln, presses, spans, flags, notes, reason, next, last, wasHidden}; entries are all of one trial. */
export function trialFrom(entries) {
  const sorted = inOrder(entries);
  const ofKind = (kind) => sorted.filter((entry) => entry.kind === kind).map((entry) => entry.body);
  const takenBack = new Set(ofKind("trial.taken_back").map((body) => body.entry));
  const shifts = new Map(ofKind("trial.corrected").map(({ entry, stage, shift_ms }) => [stage ? `${entry} ${stage}` : entry, shift_ms]));
  const every = sorted.filter((e) => e.kind === "trial.started" || e.kind === "trial.pressed").map((e) => pressOf(e, shifts));
  const valid = every.filter((press) => !takenBack.has(press.id));
  const presses = {};
  for (const press of valid) presses[press.stage] ??= press;
  const isOrdered = valid.every((press, i) => press.stage === STAGES[i]);
  const start = sorted.findLast((entry) => entry.kind === "trial.started");
  const [setup, kiln] = [start?.body ?? null, kilnOf(start, shifts)];
  const spans = {};
  if (kiln && presses.flame_in) spans.handling = elapsed(kiln, presses.flame_in, presses.flame_in.was_hidden); // the way from kiln to flame
  for (const [name, ends] of Object.entries(SPANS)) {
    const span = spanOf(presses, every, ends);
    if (span) spans[name] = span;
  }
  const flags = new Set(Object.values(spans).flatMap((span) => span.flags));
  if (!isOrdered) flags.add("out_of_order");
  return {
    id: sorted[0]?.subject ?? null,
    status: statusOf(new Set(sorted.map((e) => e.kind)), valid, isOrdered),
    setup,
    kiln,
    presses,
    spans,
    flags: [...flags].sort(),
    notes: ofKind("trial.noted").map((body) => body.text),
    reason: ofKind("trial.abandoned")[0]?.reason ?? null,
    next: STAGES.find((stage) => !presses[stage]) ?? null,
    last: valid.at(-1) ?? null,
    hiddenAfter: (first) => every.some((p) => p.n > first.n && p.was_hidden),
  };
}

/** A time to a tenth of a second; an en dash where there is none. */
export function seconds(value) {
  return value === null || value === undefined ? "–" : value.toFixed(1);
}

/** The stages for <mandrel-line>: five fields, empty = to come, else the time under the bead. */
export function mandrelText({ presses, spans }) {
  return STAGES.map((stage) => {
    if (!presses[stage]) return "";
    return stage === "flame_in" ? "0" : seconds(spans[SPAN_OF[stage]]?.seconds);
  }).join("|");
}

/** What was heated, as a person would call it. */
export function nameOf(setup) {
  return setup ? setup.piece || setup.glass_name : "A trial whose start is missing";
}

/** Every trial on this tablet, newest first, each with `mark`: held (this tablet's store refused something of it), refused, waiting or sent. */
export async function everyTrial() {
  const groups = new Map();
  const held = allHeld().filter(({ kind }) => kind.startsWith("trial."));
  const byId = new Map([...held.map((draft) => ({ ...draft, state: "held" })), ...(await entriesOfDomain("trial"))].map((entry) => [entry.id, entry]));
  for (const entry of byId.values()) {
    groups.set(entry.subject, [...(groups.get(entry.subject) ?? []), entry]);
  }
  const trials = [...groups.values()].map((entries) => ({
    ...trialFrom(entries),
    mark: ["held", "refused", "waiting"].find((state) => entries.some((e) => e.state === state)) ?? "sent",
    newest: entries.reduce((a, e) => (e.id > a ? e.id : a), ""),
  }));
  return trials.sort((a, b) => (a.newest < b.newest ? 1 : -1));
}

/** True while a clock runs on this tablet. */
export async function isAnyRunning() {
  return (await everyTrial()).some((trial) => trial.status === "running");
}

/** Bodies of earlier starts on this tablet, the last one first. */
export async function earlierSetups() {
  return (await entriesOfKind("trial.started")).map((entry) => entry.body).reverse();
}
