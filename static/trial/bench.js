// The bench: what still runs, the way to a new trial, and what was timed on this tablet.
import { onChange } from "../web/outbox.js";
import { at, fill, make, momentOf } from "../web/parts.js";
import { allSessions, askDesk, isCoveredHere } from "../plan/session.js";
import { everyGlass, quickGlasses } from "./glasses.js";
import "./mandrel.js";
import { REASONS, STATUS_WORDS } from "./stages.js";
import { everyTrial, mandrelText, nameOf } from "./trials.js";
import { writeMissingUses } from "./uses.js";
import { untold } from "./view.js";

const MAX_ROWS = 40;
const MARKS = { held: "not stored yet", sent: "sent", waiting: "to send", refused: "refused by the desk" };

function row(trial, sessions, before = "") {
  const isCovered = isCoveredHere(trial.setup, sessions); // then no time is shown either
  const line = document.createElement("mandrel-line");
  line.setAttribute("small", "");
  line.setAttribute("stages", isCovered ? untold(mandrelText(trial)) : mandrelText(trial));
  const status = trial.reason ? `${STATUS_WORDS[trial.status]}: ${REASONS[trial.reason].toLowerCase()}` : STATUS_WORDS[trial.status];
  const mark = make("span", { className: "mark" }, MARKS[trial.mark]);
  mark.dataset.state = trial.mark;
  const words = make("span", { className: "trial-words" }, make("span", { className: "name" }, before + (isCovered ? `Dish ${trial.setup.code}` : nameOf(trial.setup))), make("span", { className: "small" }, [momentOf(trial.presses.flame_in?.wall_ms), status].filter(Boolean).join(" · ")), mark);
  const link = make("a", {}, words, line);
  link.href = `/bench/run?t=${trial.id}`;
  return make("li", {}, link);
}

function showRunning(trials, sessions) {
  at("running").hidden = trials.length === 0;
  at("new-trial").classList.toggle("quiet", trials.length > 0);
  if (!trials.length) return;
  at("running-lead").textContent = trials.length === 1 ? "A trial is still running." : `${trials.length} trials are still running.`;
  fill(at("running-list"), trials.map((trial) => row(trial, sessions, "Go on with ")));
}

function sessionRow({ id, plan, runs, count, made_ms, isOpen }) {
  const link = make("a", {}, make("span", { className: "trial-words" }, make("span", { className: "name" }, plan.title || `${plan.test[0].toUpperCase()}${plan.test.slice(1)} session of ${momentOf(made_ms)}`), make("span", { className: "small" }, isOpen ? `${count} of ${runs.length} dishes done` : "closed")));
  link.href = `/bench/session?s=${id}`;
  return make("li", {}, link);
}

function showSessions(sessions) {
  const [open, closed] = [true, false].map((isOpen) => sessions.filter((one) => one.isOpen === isOpen));
  at("sessions").hidden = open.length === 0;
  fill(at("session-list"), open.map(sessionRow));
  at("closed").hidden = closed.length === 0;
  fill(at("closed-list"), closed.slice(0, MAX_ROWS).map(sessionRow));
}

async function showTrials() {
  const [trials, sessions] = await Promise.all([everyTrial(), allSessions()]);
  showSessions(sessions);
  const isOpen = (trial) => ["running", "done"].includes(trial.status);
  showRunning(trials.filter((trial) => trial.status === "running"), sessions);
  const others = trials.filter((trial) => trial.status !== "running");
  const ordered = [...others.filter(isOpen), ...others.filter((trial) => !isOpen(trial))];
  at("recent").hidden = ordered.length === 0;
  at("empty").hidden = trials.length > 0;
  fill(at("recent-list"), ordered.slice(0, MAX_ROWS).map((trial) => row(trial, sessions)));
  at("recent-count").textContent = ordered.length > MAX_ROWS ? `The last ${MAX_ROWS} of ${ordered.length}; the others are kept too.` : "";
}

function chip(glass) {
  const link = make("a", { className: "chip" }, glass.name);
  link.href = `/bench/new?${new URLSearchParams({ ...(glass.key ? { glass: glass.key } : {}), name: glass.name })}`;
  return link;
}

async function showQuick(known) {
  const { chips, isUsed } = await quickGlasses(known);
  at("quick").hidden = chips.length === 0;
  at("quick-title").textContent = isUsed ? "Straight to the torch with" : "Start with";
  fill(at("quick-chips"), chips.map(chip));
}

onChange(showTrials);
writeMissingUses();
await showTrials();
askDesk().then(showTrials).then(writeMissingUses); // sessions that other tablets planned or ended
await showQuick([]); // at once, from this tablet
await showQuick(await everyGlass());
