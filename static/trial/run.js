// The run page: presses in, stored first, then shown. The state is always what the stored entries say.
import { allSessions, isCoveredHere } from "../plan/session.js";
import { Behind, NotKept, entriesOf, newId, onChange, recordAt } from "../web/outbox.js";
import { at, oneLine } from "../web/parts.js";
import { answerPress, keepAwake, letSleep, switchSound, wakeSound } from "./awake.js";
import { correcting } from "./correct.js";
import { draftOf, dropDraft, onceMore, saveDraft, setupOf } from "./draft.js";
import "./mandrel.js";
import { ownTrial } from "./owner.js";
import { watchPresses } from "./press.js";
import { rescueFor } from "./rescue.js";
import { STAGE_WORDS } from "./stages.js";
import { trialFrom } from "./trials.js";
import { render, say, showAlarm, showClock } from "./view.js";
import { writeMissingUses } from "./uses.js";
import { countAloud, speak, switchVoice } from "./voice.js";

const TOO_SOON_MS = 500;
const AFTER_SAYING_MS = 5000;
const JUST_OPENED_MS = 700; // since the tap that opened the page
const BEFORE_KEEPING_MS = 1000;
const trialId = new URLSearchParams(location.search).get("t") ?? "";
const state = { page: newId(), stored: [], trial: trialFrom([]), setup: null, isOwner: true, isCovered: true, isFresh: true, wasHidden: false, lastPress: JUST_OPENED_MS - TOO_SOON_MS, queue: Promise.resolve() };
const rescue = rescueFor(trialId, onRescued);

function derive() {
  state.trial = trialFrom([...state.stored, ...rescue.held()]);
  if (!state.stored.length && !rescue.held().length) state.trial.status = "ready";
  state.setup = state.trial.setup ? setupOf(state.trial.setup) : draftOf(trialId);
  const isOnItsWay = state.setup?.session && !state.setup.out_of_kiln && !state.trial.presses.flame_in;
  state.next = isOnItsWay ? "kiln_out" : state.trial.next;
  render(state);
}

async function load() {
  state.stored = await entriesOf(trialId);
  derive();
  const isCovered = state.setup?.session ? isCoveredHere(state.setup, await allSessions()) : false;
  if (isCovered !== state.isCovered) {
    state.isCovered = isCovered;
    render(state);
  }
  if (rescue.held().length) showAlarm(rescue.held(), state.trial, "These are not in the store yet:");
}

function onRescued(_held, entry) {
  state.stored = [...state.stored, entry];
  derive();
  showAlarm(rescue.held(), state.trial);
  if (!rescue.held().length) say("All of it is stored now.");
}

function nextN() {
  return Math.max(-1, ...[...state.stored, ...rescue.held()].map((entry) => entry.n)) + 1;
}

/** Store an entry, then let the state follow. What the store refuses is held and shouted about. Returns true unless another tab was first. */
async function keep(kind, body, at_ms = Date.now()) {
  const draft = { id: newId(), kind, subject: trialId, n: nextN(), at_ms: Math.round(at_ms), body };
  try {
    state.stored = [...state.stored, await recordAt(draft.n, kind, trialId, body, draft)];
  } catch (error) {
    if (!(error instanceof NotKept)) throw error;
    if (error instanceof Behind) {
      await load();
      say(error.message);
      return false;
    }
    rescue.hold(draft);
    derive();
    showAlarm(rescue.held(), state.trial, `${error.message} Write this down; it is tried again by itself.`);
    return true;
  }
  derive();
  return true;
}

// The way from kiln to flame begins before there is an entry: the stamp waits in the draft and travels inside the start.
function leaveKiln(stamp) {
  saveDraft(trialId, { ...state.setup, out_of_kiln: { stage: "kiln_out", ...stamp, page: state.page, was_hidden: state.wasHidden } });
  state.wasHidden = document.visibilityState === "hidden";
  derive();
  answered("kiln_out");
}

function answered(stage) {
  answerPress(at("press"));
  speak(STAGE_WORDS[stage]);
}

async function storePress(stamp) {
  const stage = state.next;
  if (stage === "kiln_out" && state.isOwner && state.setup) return leaveKiln(stamp);
  if (!state.isOwner || !stage || !["ready", "running"].includes(state.trial.status)) return;
  const press = { stage, ...stamp, page: state.page, was_hidden: state.wasHidden };
  const isStart = stage === "flame_in";
  const write = () => keep(isStart ? "trial.started" : "trial.pressed", isStart ? { ...state.setup, press } : press, stamp.wall_ms);
  let isIn = await write();
  if (!isIn && state.next === stage) isIn = await write(); // another tab recorded something else in between
  if (!isIn) return;
  state.wasHidden = document.visibilityState === "hidden";
  answered(stage);
  if (isStart) {
    dropDraft(trialId);
    writeMissingUses();
  }
  if (!state.trial.next) settleDown();
}

function settleDown() {
  letSleep();
  at("summary-lead").focus();
  if (state.setup.session) setTimeout(() => at("keep").focus(), BEFORE_KEEPING_MS); // so that the pedal goes on, but not by a slip
}

function onPress(stamp) {
  const gap = stamp.mono_ms - state.lastPress;
  const isFirst = !state.stored.length && !state.setup?.out_of_kiln; // the second tap of a double one that opened this page
  if (state.isFresh && !isFirst) state.lastPress = -Infinity;
  else if (gap < TOO_SOON_MS) return say(state.isFresh ? "The page has only just opened: press again." : `A second press after ${(gap / 1000).toFixed(1)} s is taken for a slip and not counted.`);
  state.lastPress = stamp.mono_ms;
  state.isFresh = false;
  state.queue = state.queue.then(() => storePress(stamp));
  return state.queue;
}

async function takeBack() {
  const { last } = state.trial;
  if (!last && (state.stored.length || !state.setup?.out_of_kiln)) return;
  if (last) await keep("trial.taken_back", { entry: last.id });
  else {
    const { out_of_kiln: _stamp, ...setup } = state.setup;
    saveDraft(trialId, setup);
    derive();
  }
  state.lastPress = -Infinity;
}

async function stop(reason) {
  at("reasons").close();
  await keep("trial.abandoned", { reason });
  settleDown();
}

async function note() {
  const field = at("note");
  const text = oneLine(field.value);
  if (text && (await keep("trial.noted", { text }))) field.value = "";
}

async function keepTrial() {
  await note();
  if (!(await keep("trial.kept", {})) || rescue.held().length) return;
  if (state.setup.session) location.assign(`/bench/session?s=${state.setup.session}`);
  else at("again").focus();
}

function again() {
  const next = newId();
  saveDraft(next, onceMore(state.setup));
  location.assign(state.setup.piece ? `/bench/new?again=${next}` : `/bench/run?t=${next}`);
}

async function lightUp() {
  wakeSound();
  if (state.trial.status !== "running" || (await keepAwake()) || sessionStorage.getItem("isokom-told-sleep")) return;
  if (at("run-say").textContent) return void setTimeout(lightUp, AFTER_SAYING_MS); // what was said of a press is not covered by it
  sessionStorage.setItem("isokom-told-sleep", "yes");
  say("This browser cannot keep the screen lit: set the screen to stay on, or touch it now and then.");
}

function onVisibility() {
  if (document.visibilityState === "hidden") state.wasHidden = true;
  else lightUp();
}

function tick() {
  if (state.trial.status === "running" || (state.trial.status === "ready" && state.setup?.out_of_kiln)) countAloud(showClock(state));
  requestAnimationFrame(tick);
}

function mirror() {
  const isLeft = document.body.dataset.hand !== "left";
  document.body.dataset.hand = isLeft ? "left" : "right";
  localStorage.setItem("isokom-hand", document.body.dataset.hand);
}

// Whatever was touched last must not catch the pedal while presses are timed.
function freeThePedal() {
  if (!at("press").hidden && !document.querySelector("dialog[open]")) document.activeElement?.blur();
}

function connect() {
  watchPresses(at("press"), onPress);
  window.addEventListener("pointerup", () => setTimeout(lightUp));
  document.addEventListener("visibilitychange", onVisibility);
  at("take-back").addEventListener("click", takeBack);
  at("summary-back").addEventListener("click", takeBack);
  for (const id of ["stop", "summary-stop"]) at(id).addEventListener("click", () => at("reasons").showModal());
  at("go-on").addEventListener("click", () => at("reasons").close());
  for (const button of document.querySelectorAll("[data-reason]")) button.addEventListener("click", () => stop(button.dataset.reason));
  at("keep").addEventListener("click", keepTrial);
  at("save-note").addEventListener("click", note);
  at("again").addEventListener("click", again);
  at("mirror").addEventListener("click", mirror);
  at("move-press").addEventListener("click", correcting(() => state.trial, (body) => keep("trial.corrected", body)));
  at("voice").addEventListener("click", () => {
    switchVoice();
    render(state);
  });
  at("sound").addEventListener("click", () => {
    switchSound();
    render(state);
  });
  document.addEventListener("click", freeThePedal);
  for (const dialog of document.querySelectorAll("dialog")) dialog.addEventListener("close", freeThePedal);
  onChange((what) => what === "recorded" && !state.isOwner && load());
}

document.body.dataset.hand = localStorage.getItem("isokom-hand") ?? "right";
await load();
connect();
const takeOver = ownTrial(trialId, (isOwner) => {
  state.isOwner = isOwner;
  load();
});
at("take-over").addEventListener("click", () => takeOver());
tick();
