// How the dishes of a session are told: one row each, the drift of the reference, the times once all is uncovered.
import { boardOf, plannedName } from "../plan/session.js";
import { seconds } from "../trial/trials.js";
import { make } from "../web/parts.js";
import { lookAddress } from "./start.js";

const STATE_WORDS = { waiting: "to come", running: "running", kept: "kept", stopped: "stopped", skipped: "left out", done: "done" };

function act(words, label, onClick) {
  const button = make("button", { type: "button", className: "quiet", textContent: words });
  button.setAttribute("aria-label", label);
  button.addEventListener("click", onClick);
  return button;
}

/** One dish: code, state, and what can be done with it: reopen(run) where it can be done after all, leaveOut(run) (where given) while it waits. */
export function dishRow(session, run, { reopen, leaveOut }) {
  const name = session.isCovered ? "" : plannedName(session.plan.glasses[run.glass]);
  const isBoard = session.plan.test === "fuse"; // all its dishes are next
  const word = run.index === session.next && !isBoard ? "next" : `${STATE_WORDS[run.state]}${run.why ? `: ${run.why}` : ""}`;
  const texts = [make("span", { className: "code", textContent: run.code }), make("span", { className: "small", textContent: [name, word].filter(Boolean).join(", ") })];
  const row = make("li", {}, ...texts);
  if (run.test && ["kept", "stopped", "running"].includes(run.state)) row.replaceChildren(make("a", { href: lookAddress(run.test) }, ...texts));
  if (session.isOpen && ["skipped", "done", "stopped"].includes(run.state)) {
    row.append(act("Do it after all", `Do dish ${run.code} after all`, () => reopen(run)));
  }
  if (session.isOpen && leaveOut && run.state === "waiting") row.append(act("Leave out", `Leave dish ${run.code} out`, () => leaveOut(run)));
  row.dataset.state = run.index === session.next && !isBoard ? "next" : run.state;
  return row;
}

function timeOf(run) {
  return run.state === "kept" ? seconds(run.trial.spans.round?.seconds) : STATE_WORDS[run.state];
}

/** Whether the reference took as long later on as at the start: the torch, the kiln or the eye changed. The same words as at the desk (server/session/queue.py). */
export function driftWords({ runs, plan }) {
  const times = runs.filter((run) => run.is_reference && run.state === "kept").map((run) => run.trial.spans.round?.seconds).filter(Boolean);
  if (plan.reference === null) return "There was no reference in this session, so a drift of the torch would not show.";
  if (times.length < 2) return "Too few runs of the reference were kept to tell a drift.";
  const departure = (time) => Math.abs(Math.log(time / times[0]));
  const far = times.slice(1).reduce((a, b) => (departure(b) > departure(a) ? b : a));
  const percent = Math.round(100 * (far / times[0] - 1));
  const where = far === times.at(-1) ? "at the end" : "in between";
  return `The reference was round after ${times.map((time) => seconds(time)).join(", then ")} s: ${percent === 0 ? "no drift" : `${Math.abs(percent)} % ${percent > 0 ? "slower" : "faster"} ${where}`}.`;
}

/** A row of the table for each glass: the code and time of each of its runs. */
export function glassRows({ plan, runs }) {
  return plan.glasses.map((glass, i) => {
    const times = runs.filter((run) => run.glass === i).map((run) => `${run.code} ${timeOf(run)}`);
    return make("tr", {}, make("th", { scope: "row", textContent: plannedName(glass) }), make("td", { textContent: times.join(" · ") }));
  });
}

const clock = (ms) => new Date(ms).toTimeString().slice(0, 5);

const LABELS = {
  torch: "Torch", nozzle: "Nozzle", fuel: "Gas", cylinder: "Pressure or cylinder", distance_cm: "From the cone, cm", holder: "Holder", room_c: "Room, °C", light: "Light", operator: "At the torch",
};

function changedWords(before, now) {
  const changed = Object.keys(LABELS).filter((key) => before[key] !== now[key]);
  return changed.map((key) => `${LABELS[key]}: ${now[key] === "" || now[key] === null ? "not known any more" : now[key]}`).join("; ");
}

// What one entry of the session tells; conditions are told against those before it.
function toldWords(kind, body, plan, before) {
  const dish = body.run === undefined ? "" : `Dish ${plan.runs[body.run]?.code ?? "?"}`;
  return {
    "plan.unblinded": body.what === "list" ? "The list for laying out was opened" : "Uncovered",
    "plan.conditions": kind === "plan.conditions" ? changedWords(before, body.conditions) : "",
    "plan.skipped": `${dish} left out`,
    "plan.done": `${dish} done elsewhere`,
    "plan.reopened": `${dish} to be done after all`,
    "plan.closed": "Closed",
  }[kind];
}

/** The book of a session, line by line. */
export function bookLines({ made_ms, plan, told, id }) {
  const lines = [`Planned at ${clock(made_ms)}: seed ${plan.seed}, ${plan.is_blind ? "blind" : "not blind"}. Session ${id.slice(-6)}.`];
  let before = plan.conditions;
  for (const { kind, at_ms, body } of told) {
    const words = toldWords(kind, body, plan, before);
    before = body.conditions ?? before;
    if (words) lines.push(`${clock(at_ms)} ${words}${body.why ? `: ${body.why}` : ""}.`);
  }
  return lines;
}

export function standingWords({ conditions: c }) {
  const told = [c.torch, c.nozzle, c.fuel, c.cylinder, c.distance_cm === null ? "" : `${c.distance_cm} cm from the cone`, c.holder, c.room_c === null ? "" : `room ${c.room_c} °C`, c.light, c.operator];
  return told.filter(Boolean).join(" · ") || "Nothing was noted of torch and room.";
}

/** That nobody has decided between what devices said which had not heard of each other. */
export function unsettledWords({ unsettled }) {
  const dishes = unsettled.filter((matter) => matter !== "conditions");
  const matters = [dishes.length ? `dish ${dishes.join(", ")}` : "", unsettled.length > dishes.length ? "torch and room" : ""].filter(Boolean);
  return `Of ${matters.join(" and of ")} different things were said on machines that had not heard of each other. The later word counts for now.`;
}

function dishesIn({ length }) {
  return `${length} dish${length === 1 ? "" : "es"}`;
}

function throughWords(runs) {
  const told = ["kept", "done", "stopped", "skipped"].map((state) => [runs.filter((run) => run.state === state).length, STATE_WORDS[state]]).filter(([count]) => count);
  return told.length === 1 && told[0][1] === "kept" ? `All ${runs.length} dishes are through.` : `All ${runs.length} dishes are through: ${told.map(([count, word]) => `${count} ${word}`).join(", ")}.`;
}

/** Where the session stands, in a sentence or two. */
export function leadWords(session) {
  const { runs, next, isOpen, count, plan, isCovered } = session;
  if (!isOpen) return `${plan.title || "The session"} is closed: ${runs.filter((run) => ["kept", "done"].includes(run.state)).length} of ${runs.length} runs were done.`;
  if (next === null) return throughWords(runs);
  if (plan.test === "fuse" && runs[next].state === "running") return "The board is laid.";
  if (plan.test === "fuse") return `One firing of ${dishesIn(boardOf(session) ?? runs.filter(({ state }) => state === "waiting"))}.`;
  const name = isCovered ? "" : ` ${plannedName(plan.glasses[runs[next].glass])}.`;
  return `Run ${next + 1} of ${runs.length}.${name} ${count ? `${count} done.` : "Nothing is heated yet."}`;
}
