// What the desk reckons from the readings that have reached it: fetched again after each push, kept on the screen while the desk is away.
import { entriesOf, onChange } from "../web/outbox.js";
import { at } from "./kind.js";

const PATIENCE_MS = 8000;
const PAUSE_MS = 400;
const EVERY_MS = 15_000;
const AWAY = "The result is reckoned at the desk; your readings are kept here.";
const state = { id: "", seen: "", isBusy: false, timer: 0 };

async function fetched() {
  try {
    const answer = await fetch(`/frag/measure/${state.id}`, { signal: AbortSignal.timeout(PATIENCE_MS) });
    return answer.ok ? await answer.text() : "";
  } catch (error) {
    console.warn("no result from the desk:", error.message);
    return "";
  }
}

function say(sentence) {
  at("desk-word").hidden = !sentence;
  at("desk-word").textContent = sentence;
}

function show(html) {
  const { body } = new DOMParser().parseFromString(html, "text/html");
  at("result").replaceChildren(...body.childNodes);
}

/** Ask the desk where it may know something new; say in words what the result does not hold yet. */
async function ask() {
  if (state.isBusy || document.visibilityState !== "visible") return;
  state.isBusy = true;
  try {
    const entries = await entriesOf(state.id);
    const sent = entries.filter((entry) => entry.state === "sent").map((entry) => entry.id).join();
    if (sent && sent !== state.seen) {
      const html = await fetched();
      if (html) [state.seen] = [sent, show(html)];
    }
    const isWhole = state.seen && entries.every((entry) => entry.state === "sent") && sent === state.seen;
    say(isWhole ? "" : state.seen ? `Your newest readings are not in this result yet. ${AWAY}` : AWAY);
  } finally {
    state.isBusy = false;
  }
}

function soon() {
  clearTimeout(state.timer);
  state.timer = setTimeout(ask, PAUSE_MS);
}

/** Show the desk's result of a test, now and after each push. */
export function watchResult(testId) {
  state.id = testId;
  onChange(soon);
  window.addEventListener("online", soon);
  document.addEventListener("visibilitychange", soon);
  setInterval(soon, EVERY_MS);
  ask();
}
