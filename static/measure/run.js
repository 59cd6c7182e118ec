// A test being measured: one thing to do at a time, every value an entry of its own. What stands on the screen is what the entries say.
import { askDesk } from "../plan/session.js";
import { NotKept, entriesOf, onChange, record } from "../web/outbox.js";
import { Card, beforeLine } from "./card.js";
import { coverNow } from "./cover.js";
import { watchResult } from "./desk.js";
import { held } from "./held.js";
import { Keeper } from "./keep.js";
import { at, kind, oneLine } from "./kind.js";
import { watchPhotos } from "./photos.js";
import { takeFromLedger } from "./pieces.js";
import { afterPress, doubles } from "../web/press.js";
import { measuredFrom } from "./tests.js";
import { showAlarm, showLedger, showReadings, showTop, taskWords } from "./view.js";

const DONE = "done";
const isDouble = doubles();
const state = { id: "", plan: null, entries: [], measured: null, at: "", wanted: 1, shown: "", cover: (measured) => measured };
let keeper, card, typed, change; // typed {at, text}: a number not said yet; change {place, quantity, said, why}: of a kept test, its reason to come

const idOf = (task) => (task.gate ? `gate:${task.gate}` : `${task.place}/${task.quantity}`);
const tasks = () => state.plan.tasks(state.measured, state.wanted);
const isOpen = () => state.measured.status === "running";

function remember(name, value) {
  localStorage.setItem(`isokom-measure-${name}:${state.id}`, value);
}

function remembered(name) {
  return localStorage.getItem(`isokom-measure-${name}:${state.id}`);
}

/** The state as the entries tell it, with what is on its way to them. */
function derive() {
  state.measured = state.cover(measuredFrom(state.entries));
  for (const [place, said] of keeper.said()) {
    if (said === null) state.measured.readings.delete(place);
    else state.measured.readings.set(place, said);
  }
  const places = state.plan.places(state.measured, 1).length;
  state.wanted = Math.max(state.wanted, places, 1);
}

/** {task, index} that is shown; a square of the board may be asked for outside the row of tasks. */
function current() {
  const all = tasks();
  const index = all.findIndex((task) => idOf(task) === state.at);
  if (index >= 0) return { task: all[index], index, all };
  const [place, quantity] = state.at.split("/");
  if (kind.quantities[quantity]) return { task: { place, quantity }, index: -1, all };
  return { task: null, index: all.length, all };
}

function firstOpen() {
  if (!isOpen()) return DONE;
  const all = tasks();
  if (all[0]?.stays && !state.measured.history.size) return idOf(all[0]);
  const isDue = (task) => !task.gate && !kind.quantities[task.quantity].optional && !state.measured.readings.has(idOf(task));
  const due = all.findIndex(isDue);
  if (due < 0) return DONE;
  const gate = all[due - 1]?.gate ? due - 1 : due;
  return idOf(all[gate]);
}

function go(id, isQuiet = false) {
  state.at = id;
  remember("at", id);
  showCard();
  render();
  if (isQuiet) return;
  at("task-title").focus({ preventScroll: true });
  at("task").scrollIntoView({ block: "nearest" });
}

/** Where a number begins that nothing was read for: its turned twin, the place before, or the usual. */
function fromFor({ place, quantity }) {
  const about = kind.quantities[quantity];
  const { readings } = state.measured;
  const twin = about.near && readings.get(`${place}/${about.near}`);
  const earlier = state.plan.places(state.measured, state.wanted).filter((one) => one < place).map((one) => readings.get(`${one}/${quantity}`));
  return twin || earlier.findLast((value) => value !== undefined) || about.start;
}

/** The change that waits on the card that is shown; null without one. */
function waiting() {
  const one = change.get();
  return one && idOf(one) === state.at ? one : null;
}

function showWhy() {
  const one = waiting();
  at("why-part").hidden = !one;
  if (at("why").value !== (one?.why ?? "")) at("why").value = one?.why ?? "";
}

/** What the card says; by `key` it is known whether that is on the screen already. */
function cardNow() {
  const { task, index, all } = current();
  const words = taskWords(state, task, all[index + 1], all);
  if (waiting()) words.next = "Record the change";
  const { readings, history } = state.measured;
  const value = task && !task.gate ? (waiting() ? waiting().said : readings.get(idOf(task))) : undefined;
  const before = task && !task.gate ? beforeLine(task, readings, history) : "";
  return { task, index, all, words, value, before, key: JSON.stringify([state.at, words, value, before, state.wanted]) };
}

function showCard() {
  const { task, index, all, words, value, before, key } = cardNow();
  state.shown = key;
  at("task-title").textContent = words.title;
  at("task-caution").hidden = !task?.caution;
  at("task-hint").hidden = !words.hint;
  at("task-hint").textContent = words.hint;
  at("next").textContent = words.next;
  at("next").hidden = !words.next;
  at("back").hidden = index === 0 || !all.length || !isOpen();
  showWhy();
  at("more-places").hidden = !(task === null && isOpen() && state.plan.most > state.wanted);
  if (!task || task.gate) return card.hide();
  const text = typed.get()?.at === state.at ? typed.get().text : null;
  return card.show({ ...task, from: fromFor(task), glasses: state.measured.glasses }, value, before, text);
}

function render() {
  showTop(state);
  showReadings(state, tasks(), tap);
  state.plan.draw(state, current().task, tap);
}

/** Once the entries were read anew: another tab may have read on. */
function renewed() {
  if (!card.isTyped && !change.get() && cardNow().key !== state.shown) showCard();
  render();
}

/** A reading, a chip or a square was touched: it is shown once this card lets go. */
async function tap(id) {
  if (state.measured.session && id.endsWith("/glass")) return; // what lies there the session has said
  if (await settle()) go(id);
}

/** A change of a test that was kept: it waits for its reason. */
function changeTo({ place, quantity }, said) {
  const stored = state.measured.readings.get(`${place}/${quantity}`) ?? null;
  change.set(said === stored ? null : { place, quantity, said, why: at("why").value });
  showWhy();
  at("next").textContent = cardNow().words.next;
}

/** While a number is typed it is only held, beside the store. */
function onTyping(text, said) {
  typed.set({ at: state.at, text });
  if (!isOpen() && said !== undefined) changeTo(current().task, said);
}

/** A reading from the card. */
function onSaid(said, isSettled) {
  const { task } = current();
  typed.set(null);
  if (!isOpen()) return changeTo(task, said);
  keeper.set(task.place, task.quantity, said);
  derive();
  render();
  if (isSettled) keeper.flush();
  if (isSettled && task.quantity === "glass" && said !== null) go("gate:place");
}

/** Whether the hand may leave this card: nothing half-typed, no change without its reason. */
async function settle() {
  if (!card.settle()) return false;
  const one = change.get();
  if (!one) return flushed();
  const why = oneLine(at("why").value);
  if (!why) {
    card.complain("Say in a few words why it is changed, or put the old value back.");
    at("why").focus();
    return false;
  }
  keeper.set(one.place, one.quantity, one.said, why);
  change.set(null);
  return flushed();
}

async function flushed() {
  await keeper.flush();
  await load();
  return true;
}

async function next() {
  if (isDouble()) return; // it would pass over a reading
  const { task, index, all } = current();
  if (!(await settle())) return;
  if (!isOpen()) return go(DONE);
  if (task === null) return keepTest();
  if (index < 0) return go(idOf(all[0]));
  return go(index + 1 < all.length ? idOf(tasks()[index + 1]) : DONE);
}

async function back() {
  const { index, all } = current();
  if (!(await settle())) return;
  go(idOf(all[Math.max(0, (index < 0 ? 1 : index) - 1)]));
}

/** Store an entry other than a reading; true once it is in. */
async function keep(name, body) {
  try {
    await record(`measure.${name}`, state.id, body);
    return true;
  } catch (error) {
    if (!(error instanceof NotKept)) throw error;
    showAlarm(`${error.message} Try once more.`);
    return false;
  }
}

async function keepTest() {
  if (!(await keep("kept", {}))) return;
  if (state.measured.session) location.assign(`/bench/session?s=${state.measured.session}`);
  else go(DONE);
}

async function note() {
  const text = oneLine(at("note").value);
  if (text && (await keep("noted", { text }))) at("note").value = "";
}

async function stop() {
  const reason = oneLine(at("reason").value);
  at("reason-error").hidden = Boolean(reason);
  at("reason-error").textContent = reason ? "" : "Say in a few words why.";
  if (!reason) return;
  if (!card.settle()) typed.set(null); // a number that cannot be meant does not hold up the stop
  await flushed();
  if (await keep("abandoned", { reason })) go(DONE);
}

async function load() {
  state.entries = await entriesOf(state.id);
  if (measuredFrom(state.entries).session) state.cover = await coverNow();
  const was = state.measured?.status;
  derive();
  if (was && was !== state.measured.status) showCard();
}

function connect() {
  at("next").addEventListener("click", next);
  at("back").addEventListener("click", back);
  at("save-note").addEventListener("click", note);
  at("stop").addEventListener("click", stop);
  at("more-places").addEventListener("click", () => {
    state.wanted += 1;
    remember("places", state.wanted);
    go(idOf(tasks().find((task) => task.place === String(state.wanted))));
  });
  at("why").addEventListener("input", () => change.get() && change.set({ ...change.get(), why: at("why").value }));
  window.addEventListener("pagehide", () => card.settle() && keeper.flush());
  onChange(async () => {
    await load();
    afterPress(renewed);
  });
}

/** Show a test: first what was on its way is written, then all is read anew. */
export async function showRun(testId, plan) {
  Object.assign(state, { id: testId, plan });
  state.entries = await entriesOf(testId);
  if (measuredFrom(state.entries).test !== kind.test) {
    at("part-nothing").hidden = false;
    return;
  }
  keeper = new Keeper(testId, showAlarm);
  [typed, change] = [held("typed", testId), held("change", testId)];
  await keeper.flush();
  card = new Card({ onSaid, onTyping, draw: (quantity, word) => plan.drawing?.(quantity, word, state.measured) ?? null });
  state.wanted = Number(remembered("places") ?? 1);
  await load();
  at("part-run").hidden = false;
  connect();
  watchPhotos(state, keep);
  watchResult(testId);
  const unsaid = typed.get()?.at ?? (change.get() && idOf(change.get()));
  go(unsaid ?? (isOpen() ? (remembered("at") ?? firstOpen()) : DONE), true);
  document.documentElement.dataset.ready = "measure";
  if (state.measured.session) askDesk().then(load).then(renewed); // another tablet may have ended its session
  showLedger(await takeFromLedger(testId, state.measured, state.measured.started_ms));
}
