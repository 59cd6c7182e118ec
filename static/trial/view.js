// Draws the run page from the state; decides nothing.
import { at } from "../web/parts.js";
import { isSoundOn } from "./awake.js";
import { elapsed, stampNow } from "./clock.js";
import { FLAG_WORDS, REASONS, STAGE_HINTS, STAGE_WORDS, STATUS_WORDS } from "./stages.js";
import { mandrelText, nameOf, seconds } from "./trials.js";
import { hasVoice, isVoiceOn } from "./voice.js";

const ROWS = [
  ["handling", "On the way", "from kiln to flame"],
  ["sag", "Sagged", "from into the flame"],
  ["round", "Round", "from into the flame"],
  ["out", "Out of the flame", "from into the flame"],
  ["glow", "Glow gone", "from out of the flame"],
];

function show(id, isShown) {
  at(id).hidden = !isShown;
}

function stand(state) {
  if (!state.setup) return "nothing";
  if (!state.isOwner) return "elsewhere";
  return ["ready", "running"].includes(state.trial.status) ? "press" : "summary";
}

function sinceWords({ presses }, onItsWay) {
  if (presses.flame_out) return "since out of the flame";
  if (presses.flame_in) return "since into the flame";
  return onItsWay ? "since out of the kiln" : "";
}

/** The running clock, from the stored start; nothing is counted up. Returns the seconds shown, null for none. */
export function showClock(state) {
  const { presses, spans, hiddenAfter } = state.trial;
  const onItsWay = state.setup?.out_of_kiln;
  const start = presses.flame_out ?? presses.flame_in ?? onItsWay;
  at("clock-word").textContent = sinceWords(state.trial, onItsWay);
  const now = spans.glow?.seconds ?? (start ? elapsed(start, stampNow(state.page), state.wasHidden || hiddenAfter(start)).seconds : null);
  at("clock").textContent = start ? seconds(now) : "0.0";
  return now;
}

/** What was heated; while a session is covered only the code on its dish. */
function nameHere({ setup, isCovered }) {
  return isCovered && setup.session ? `Dish ${setup.code}` : nameOf(setup);
}

function showPress(state) {
  const { next } = state;
  const { presses, status } = state.trial;
  const isStarted = state.stored.length > 0;
  at("press-word").textContent = next ? STAGE_WORDS[next] : "";
  at("press-hint").textContent = next ? STAGE_HINTS[next] : "";
  show("take-back", Boolean(presses.flame_in || (state.setup.out_of_kiln && !isStarted)));
  show("stop", isStarted);
  const isWaiting = status === "ready" && !state.setup.out_of_kiln;
  for (const id of ["sound", "mirror", "ready-caution"]) show(id, isWaiting);
  show("leave", status === "ready");
  show("voice", isWaiting && hasVoice());
  at("voice").textContent = isVoiceOn() ? "Voice on" : "Voice off";
  at("leave").href = state.setup.session ? `/bench/session?s=${state.setup.session}` : "/bench";
  at("sound").textContent = isSoundOn() ? "Sound on" : "Sound off";
}

function timeRow(trial, isTold, [key, word, from]) {
  const row = document.createElement("tr");
  const head = Object.assign(document.createElement("th"), { scope: "row", textContent: word });
  const cell = Object.assign(document.createElement("td"), { className: "n", textContent: isTold || !trial.spans[key] ? seconds(trial.spans[key]?.seconds) : "recorded" });
  if (trial.spans[key] && isTold) cell.append(Object.assign(document.createElement("span"), { className: "unit", textContent: "\u202fs" }));
  row.append(head, Object.assign(document.createElement("td"), { className: "soft", textContent: from }), cell);
  return row;
}

function line(text) {
  return Object.assign(document.createElement("li"), { textContent: text });
}

function leadSentence(trial) {
  if (trial.status === "abandoned") return `Stopped: ${REASONS[trial.reason].toLowerCase()}. What was timed stays in the book, apart from the medians.`;
  if (trial.status === "kept") return "Kept.";
  if (trial.status === "done") return "All five presses are in. Look at the times, then keep them.";
  return `${STATUS_WORDS[trial.status][0].toUpperCase()}${STATUS_WORDS[trial.status].slice(1)}.`;
}

/** The stages without their times. */
export function untold(stages) {
  return stages.split("|").map((time) => (time ? "·" : "")).join("|");
}

function showSummary(state) {
  const { trial, setup } = state;
  at("summary-lead").textContent = leadSentence(trial);
  at("summary-name").textContent = nameHere(state);
  const isTold = !(state.isCovered && ["kept", "abandoned"].includes(trial.status)); // in a covered session no time from before is shown
  at("summary-line").setAttribute("stages", isTold ? mandrelText(trial) : untold(mandrelText(trial)));
  at("times").replaceChildren(...ROWS.filter(([key]) => key !== "handling" || trial.spans.handling).map((row) => timeRow(trial, isTold, row)));
  at("flags").replaceChildren(...trial.flags.map((flag) => line(FLAG_WORDS[flag])));
  at("notes").replaceChildren(...trial.notes.map(line));
  const isDone = trial.status === "done";
  for (const id of ["keep", "summary-back", "summary-stop"]) show(id, isDone);
  show("move-press", trial.status !== "abandoned" && isTold);
  const isSettled = trial.status === "kept" || trial.status === "abandoned";
  show("again", isSettled && !setup.session);
  show("to-session", isSettled && Boolean(setup.session));
  at("to-session").href = `/bench/session?s=${setup.session}`;
  at("keep").textContent = setup.session ? "Keep, on to the next dish" : "Keep";
}

/** Everything but the clock. */
export function render(state) {
  const found = stand(state);
  for (const id of ["nothing", "elsewhere", "press", "summary"]) show(`part-${id}`, found === id);
  document.body.dataset.part = found;
  at("press").hidden = found !== "press";
  if (found === "nothing") return;
  at("run-name").textContent = nameHere(state);
  at("elsewhere-name").textContent = nameHere(state);
  at("run-line").setAttribute("stages", mandrelText(state.trial));
  if (found === "press") showPress(state);
  if (found === "summary") showSummary(state);
  showClock(state);
}

/** One short sentence that goes after some seconds. */
export function say(sentence) {
  const place = at("run-say");
  place.textContent = sentence;
  clearTimeout(say.timer);
  say.timer = setTimeout(() => (place.textContent = ""), 4000);
}

function heldTime(draft, trial) {
  const stage = draft.body.stage ?? draft.body.press?.stage;
  if (!stage) return "";
  const span = trial.spans[{ sagged: "sag", round: "round", flame_out: "out", glow_gone: "glow" }[stage]];
  const clock = new Date(draft.at_ms).toTimeString().slice(0, 8);
  return span ? `${STAGE_WORDS[stage]} ${span.seconds?.toFixed(2) ?? clock} s` : `${STAGE_WORDS[stage]} at ${clock}`;
}

/** The loud words while the store refuses: what was pressed, big enough to be copied by hand. */
export function showAlarm(held, trial, sentence) {
  show("alarm", held.length > 0);
  if (!held.length) return;
  if (sentence) at("alarm-why").textContent = sentence;
  at("alarm-times").replaceChildren(...held.map((draft) => line(heldTime(draft, trial) || "A remark or decision")));
}
