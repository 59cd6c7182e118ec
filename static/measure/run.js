// A test being measured: one thing to do at a time, every value an entry of its own. What stands on the screen is what the entries say.
import { NotKept, entriesOf, onChange, record } from "../web/outbox.js";
import { Card, beforeLine } from "./card.js";
import { watchResult } from "./desk.js";
import { Keeper } from "./keep.js";
import { at, kind, oneLine } from "./kind.js";
import { watchPhotos } from "./photos.js";
import { measuredFrom } from "./tests.js";
import { showAlarm, showReadings, showTop, taskWords } from "./view.js";

const DONE = "done";
const state = { id: "", plan: null, entries: [], measured: null, at: "", wanted: 1, change: null };
let keeper, card;

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
  state.measured = measuredFrom(state.entries);
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
  const isDue = (task) => !task.gate && !kind.quantities[task.quantity].optional && !state.measured.readings.has(idOf(task));
  const due = all.findIndex(isDue);
  if (due < 0) return all.some((task) => task.stays) && !state.measured.readings.size ? idOf(all[0]) : DONE;
  const gate = all[due - 1]?.gate ? due - 1 : due;
  return idOf(all[gate]);
}

function go(id, isQuiet = false) {
  state.at = id;
  state.change = null;
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

function showCard() {
  const { task, index, all } = current();
  const words = taskWords(state, task, all[index + 1], all);
  at("task-title").textContent = words.title;
  at("task-caution").hidden = !task?.caution;
  at("task-hint").hidden = !words.hint;
  at("task-hint").textContent = words.hint;
  at("next").textContent = words.next;
  at("next").hidden = !words.next;
  at("back").hidden = index === 0 || !all.length || !isOpen();
  at("why-part").hidden = true;
  at("why").value = "";
  at("more-places").hidden = !(task === null && isOpen() && state.plan.most > state.wanted);
  if (!task || task.gate) return card.hide();
  const { readings, history, glasses } = state.measured;
  return card.show({ ...task, from: fromFor(task), glasses }, readings.get(idOf(task)), beforeLine(task, readings, history));
}

function render() {
  showTop(state);
  showReadings(state, tasks(), go);
  state.plan.draw(state, current().task, go);
}

/** A change of a test that was kept: it waits for its reason. */
function change(task, said) {
  const held = state.measured.readings.get(idOf(task)) ?? null;
  state.change = said === held ? null : { ...task, said };
  at("why-part").hidden = !state.change;
  at("next").textContent = state.change ? "Record the change" : "Done";
}

/** A reading from the card. */
function onSaid(said, isSettled) {
  const { task } = current();
  if (!isOpen()) return change(task, said);
  keeper.set(task.place, task.quantity, said);
  derive();
  render();
  if (isSettled) keeper.flush();
  if (isSettled && task.quantity === "glass" && said !== null) go("gate:place");
}

/** Whether the hand may leave this card: nothing half-typed, no change without its reason. */
async function settle() {
  if (card.task && card.wrong()) {
    card.typed(true);
    return false;
  }
  if (!state.change) return flushed();
  const why = oneLine(at("why").value);
  if (!why) {
    card.complain("Say in a few words why it is changed, or put the old value back.");
    at("why").focus();
    return false;
  }
  keeper.set(state.change.place, state.change.quantity, state.change.said, why);
  state.change = null;
  return flushed();
}

async function flushed() {
  await keeper.flush();
  await load();
  return true;
}

async function next() {
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
  if (await keep("kept", {})) go(DONE);
}

async function note() {
  const text = oneLine(at("note").value);
  if (text && (await keep("noted", { text }))) at("note").value = "";
}

async function stop() {
  const reason = oneLine(at("reason").value);
  at("reason-error").hidden = Boolean(reason);
  at("reason-error").textContent = reason ? "" : "Say in a few words why.";
  if (reason && (await settle()) && (await keep("abandoned", { reason }))) go(DONE);
}

async function load() {
  state.entries = await entriesOf(state.id);
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
  onChange(async () => {
    await load();
    render();
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
  await keeper.flush();
  card = new Card({ onSaid, draw: (quantity, word) => plan.drawing?.(quantity, word, state.measured) ?? null });
  state.wanted = Number(remembered("places") ?? 1);
  await load();
  at("part-run").hidden = false;
  connect();
  watchPhotos(state, keep);
  watchResult(testId);
  go(isOpen() ? (remembered("at") ?? firstOpen()) : DONE, true);
  document.documentElement.dataset.ready = "measure";
}
