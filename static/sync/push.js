// Hands waiting entries to the desk. Only "stored" or "same" from the desk marks an entry as sent; whatever else happens, it waits here.
import { bare, fact, keepFact, markAllWaiting, markRefused, markSent, onChange, unsent } from "../web/outbox.js";
import { joined } from "../web/parts.js";
import { digestField, mustFit } from "./digest.js";

const PATIENCE_MS = 10_000;
const EVERY_MS = 15_000;
const MAX_BYTES = 500_000;
const MAX_ENTRIES = 400;
const TOO_LARGE = "This entry is larger than the desk takes at once. Whoever looks after the desk can let it take more (ISOKOM_MAX_BODY_BYTES).";
const PLACE = "desk-place"; // where the desk's book stood when it last took something from here
const channel = new BroadcastChannel("isokom-desk");
const told = new Set();
let desk = "unknown"; // unknown | sending | reached | unreachable | troubled | locked (it does not know this device, or turned it away) | guest (it takes nothing from this device)
const SHUT = ["locked", "guest"];

/** Call fn(desk) whenever what we know of the desk changes, in this tab or another. */
export function onDesk(fn) {
  told.add(fn);
  fn(desk);
}

function setDesk(next) {
  if (next === desk) return;
  desk = next;
  channel.postMessage(next);
  for (const fn of told) fn(next);
}

channel.onmessage = (event) => {
  desk = event.data;
  for (const fn of told) fn(desk);
};

function firstBatch(entries) {
  let bytes = 0;
  const end = entries.findIndex((entry, i) => (bytes += new Blob([JSON.stringify(entry)]).size) > MAX_BYTES && i > 0);
  return entries.slice(0, Math.min(end < 0 ? entries.length : end, MAX_ENTRIES));
}

async function post(entries) {
  const body = new TextEncoder().encode(JSON.stringify({ entries, after: (await fact(PLACE)) ?? null }));
  const headers = { "Content-Type": "application/json", ...(await digestField(body)) };
  const response = await fetch("/sync/push", { method: "POST", headers, body, signal: AbortSignal.timeout(PATIENCE_MS) });
  if (!response.ok) return { status: response.status };
  const text = await response.text();
  await mustFit(response.headers.get("Unencoded-Digest"), text);
  return JSON.parse(text);
}

// A desk that was set back to an older book, or holds another one, lacks what it once confirmed: all of it is offered again. What it has, it answers with "same".
async function place({ head, known }) {
  if (known === false) await markAllWaiting();
  if (head) await keepFact(PLACE, head);
  if (known === false && head) flush(); // what was marked while a batch was on its way follows at once
}

async function settle(entries, verdicts) {
  const sent = new Set(entries.map((entry) => entry.id));
  const known = verdicts.filter((v) => sent.has(v.id));
  const done = known.filter((v) => v.verdict === "stored" || v.verdict === "same").map((v) => v.id);
  if (done.length) await markSent(done);
  for (const v of known.filter((v) => v.verdict === "refused")) await markRefused(v.id, v.code, v.message);
}

// A batch that the desk cannot digest is halved, so that one bad entry does not hold back the others.
async function send(entries) {
  const { verdicts, status, ...told } = await post(entries);
  if (verdicts) {
    await settle(entries, verdicts);
    return place(told);
  }
  if (status === 401 || status === 403) return setDesk(status === 401 ? "locked" : "guest"); // it waits here until the device has joined again
  if (status === 413 && entries.length === 1) return markRefused(entries[0].id, "too_large", TOO_LARGE); // or it would hold back all that come after it
  if (status === 503 || entries.length === 1) {
    setDesk("troubled");
    return null;
  }
  const middle = Math.ceil(entries.length / 2);
  await send(entries.slice(0, middle));
  return SHUT.includes(desk) ? null : send(entries.slice(middle));
}

// Returns whether the desk was asked anything.
async function sendAll() {
  const tried = new Set();
  for (;;) {
    let waiting = (await unsent()).filter((entry) => !tried.has(entry.id)).map(bare);
    if (!waiting.length) return tried.size > 0;
    setDesk("sending");
    while (waiting.length) {
      const batch = firstBatch(waiting);
      waiting = waiting.slice(batch.length);
      for (const entry of batch) tried.add(entry.id);
      await send(batch);
      if (desk === "troubled" || SHUT.includes(desk)) return true;
    }
  }
}

// Nothing waited: does the desk answer at all, and does it still hold what it confirmed?
async function look() {
  const kept = await fact(PLACE);
  const answer = await fetch(`/sync/mark.json${kept ? `?${new URLSearchParams(kept)}` : ""}`, { cache: "no-store", signal: AbortSignal.timeout(PATIENCE_MS) });
  if (answer.status === 403) return setDesk("guest");
  if (!answer.ok) return setDesk(answer.status === 401 ? "locked" : "troubled");
  const told = await answer.json();
  setDesk("reached");
  if (told.known !== false) return null;
  await place(told);
  return sendAll();
}

async function underLock(lock) {
  if (!lock) return; // another tab is at it
  try {
    if (!(await sendAll())) await look();
    if (desk === "sending") setDesk("reached");
  } catch (error) {
    const isNetwork = ["TypeError", "TimeoutError", "AbortError", "SyntaxError"].includes(error.name);
    setDesk(isNetwork ? "unreachable" : "unknown"); // a tablet whose own store is full says nothing of the desk
    if (!isNetwork) throw error;
  }
}

/** Send what waits. Never throws for a desk that is away; calls that overlap are joined. */
export const flush = joined(() => navigator.locks.request("isokom-push", { ifAvailable: true }, underLock));

function flushIfSeen() {
  if (document.visibilityState === "visible") flush();
}

/** Flush now and on every occasion on which the desk may be back. */
export function startPushing() {
  window.addEventListener("pageshow", flushIfSeen);
  window.addEventListener("online", flushIfSeen);
  document.addEventListener("visibilitychange", flushIfSeen);
  onChange((what) => what === "recorded" && flushIfSeen());
  setInterval(flushIfSeen, EVERY_MS);
  flush();
}
