// The bench: what still runs, the way to a new trial, and what was timed on this tablet.
import { onChange } from "../web/outbox.js";
import { everyGlass, quickGlasses } from "./glasses.js";
import "./mandrel.js";
import { allSessions, shownName } from "./session.js";
import { REASONS, STATUS_WORDS } from "./stages.js";
import { everyTrial, mandrelText } from "./trials.js";

const MAX_ROWS = 40;
const MARKS = { sent: "sent", waiting: "to send", refused: "refused by the desk" };
const at = (id) => document.getElementById(id);

function make(tag, className, ...children) {
  const element = document.createElement(tag);
  if (className) element.className = className;
  element.append(...children);
  return element;
}

function when(trial) {
  const ms = trial.presses.flame_in?.wall_ms;
  if (ms === undefined) return "";
  const day = new Date(ms - new Date(ms).getTimezoneOffset() * 60_000).toISOString();
  return `${day.slice(0, 10)} ${day.slice(11, 16)}`;
}

// In a covered session no time is shown either, only that the stages were recorded.
function lineOf(trial, isCovered) {
  const text = mandrelText(trial);
  return isCovered ? text.split("|").map((time) => (time ? "·" : "")).join("|") : text;
}

function row(trial, sessions, before = "") {
  const isCovered = sessions.some((one) => one.isCovered && one.id === trial.setup?.session);
  const line = document.createElement("mandrel-line");
  line.setAttribute("small", "");
  line.setAttribute("stages", lineOf(trial, isCovered));
  const status = trial.reason ? `${STATUS_WORDS[trial.status]}: ${REASONS[trial.reason].toLowerCase()}` : STATUS_WORDS[trial.status];
  const mark = make("span", "mark", MARKS[trial.mark]);
  mark.dataset.state = trial.mark;
  const words = make("span", "trial-words", make("span", "name", before + shownName(trial, sessions)), make("span", "small", [when(trial), status].filter(Boolean).join(" · ")), mark);
  const link = make("a", "", words, line);
  link.href = `/bench/run?t=${trial.id}`;
  return make("li", "", link);
}

function showRunning(trials, sessions) {
  at("running").hidden = trials.length === 0;
  at("new-trial").classList.toggle("quiet", trials.length > 0);
  if (!trials.length) return;
  at("running-lead").textContent = trials.length === 1 ? "A trial is still running." : `${trials.length} trials are still running.`;
  at("running-list").replaceChildren(...trials.map((trial) => row(trial, sessions, "Go on with ")));
}

function sessionRow({ id, plan, runs, count, made_ms }) {
  const day = new Date(made_ms - new Date(made_ms).getTimezoneOffset() * 60_000).toISOString().slice(0, 10);
  const link = make("a", "", make("span", "trial-words", make("span", "name", plan.title || `Session of ${day}`), make("span", "small", `${count} of ${runs.length} dishes done`)));
  link.href = `/bench/session?s=${id}`;
  return make("li", "", link);
}

function showSessions(open) {
  at("sessions").hidden = open.length === 0;
  at("session-list").replaceChildren(...open.map(sessionRow));
}

async function showTrials() {
  const [trials, sessions] = await Promise.all([everyTrial(), allSessions()]);
  showSessions(sessions.filter((one) => one.isOpen));
  const isOpen = (trial) => ["running", "done"].includes(trial.status);
  showRunning(trials.filter((trial) => trial.status === "running"), sessions);
  const others = trials.filter((trial) => trial.status !== "running");
  const ordered = [...others.filter(isOpen), ...others.filter((trial) => !isOpen(trial))];
  at("recent").hidden = ordered.length === 0;
  at("empty").hidden = trials.length > 0;
  at("recent-list").replaceChildren(...ordered.slice(0, MAX_ROWS).map((trial) => row(trial, sessions)));
  at("recent-count").textContent = ordered.length > MAX_ROWS ? `The last ${MAX_ROWS} of ${ordered.length}; the others are kept too.` : "";
}

function chip(glass) {
  const link = make("a", "chip", glass.name);
  link.href = `/bench/new?${new URLSearchParams({ ...(glass.key ? { glass: glass.key } : {}), name: glass.name })}`;
  return link;
}

async function showQuick(known) {
  const { chips, isUsed } = await quickGlasses(known);
  at("quick").hidden = chips.length === 0;
  at("quick-title").textContent = isUsed ? "Straight to the torch with" : "Start with";
  at("quick-chips").replaceChildren(...chips.map(chip));
}

onChange(showTrials);
await showTrials();
await showQuick([]); // at once, from this tablet
await showQuick(await everyGlass());
