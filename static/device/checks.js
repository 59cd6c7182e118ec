// What can be tried without a person. Each check gives {result: good | mind | bad | unknown, words, figure, unit}; one that breaks says so and stops none of the others.
import { isAppleTab, isFromHome } from "../web/home.js";
import { withDb } from "../web/db.js";

const PATIENCE_MS = 6000;
const TRIES = 7;
const MOST_APART_S = 60;
const found = (result, words, figure = null, unit = "") => ({ result, words, figure, unit });
const median = (values) => [...values].sort((a, b) => a - b)[Math.floor(values.length / 2)];

function secure() {
  return isSecureContext ? found("good", "The address is a secure one, so this device may keep pages and work without the desk.") : found("bad", "This address is not secure: nothing works without the desk, and nothing can be kept safely. Open the address that the desk shows under “Connect a tablet”.");
}

async function offline() {
  if (!navigator.serviceWorker) return found("bad", "This browser cannot keep pages, so Isokom opens only while the desk answers.");
  await Promise.race([navigator.serviceWorker.ready, new Promise((resolve) => setTimeout(resolve, PATIENCE_MS * 3))]);
  const names = (await caches.keys()).filter((name) => name.startsWith("shell-"));
  const kept = await Promise.all(names.map(async (name) => (await (await caches.open(name)).keys()).length));
  const most = Math.max(0, ...kept);
  if (!most) return found("bad", "The pages are not kept here yet. Leave this page open for a minute while the desk answers, then try again.");
  if (!navigator.serviceWorker.controller) return found("mind", `${most} pages and files are kept, but this page was opened without them. Open it once more.`, most);
  return found("good", `${most} pages and files are kept here: Isokom opens without the desk and without any network.`, most);
}

async function writeOnce(value) {
  const began = performance.now();
  await withDb(async (db) => {
    const tx = db.transaction("facts", "readwrite", { durability: "strict" });
    await tx.objectStore("facts").put(value, "self-test");
    await tx.done;
  });
  return performance.now() - began;
}

async function writing() {
  const times = [];
  for (let i = 0; i < TRIES; i += 1) times.push(await writeOnce(`${Date.now()}-${i}`));
  const last = await withDb((db) => db.get("facts", "self-test"));
  if (!last?.endsWith(`-${TRIES - 1}`)) return found("bad", "What was written could not be read again.");
  const ms = Math.round(median(times));
  const words = `What you press is on this device’s disk after about ${ms} ms, and was read again.`;
  return ms > 500 ? found("mind", `${words} That is slow: wait for the answer to each press.`, ms, "ms") : found("good", words, ms, "ms");
}

async function room() {
  const promised = await navigator.storage?.persisted?.();
  const { quota = 0, usage = 0 } = (await navigator.storage?.estimate?.()) ?? {};
  const free_mb = Math.round((quota - usage) / 1e6);
  const said = quota ? ` There is room for about ${free_mb >= 2000 ? `${Math.round(free_mb / 1000)} GB` : `${free_mb} MB`}.` : "";
  if (quota && free_mb < 50) return found("bad", `This device is nearly full.${said}`, free_mb, "MB");
  return promised ? found("good", `The browser has promised to keep what is recorded.${said}`, free_mb, "MB") : found("mind", `The browser gives no promise to keep what is recorded: send it to the desk often.${said}`, free_mb, "MB");
}

function home() {
  if (isAppleTab()) return found("bad", "Open Isokom from the home screen: a tab of this browser may be emptied after seven days without a visit.");
  return isFromHome() ? found("good", "Opened from the home screen, like an app of its own.") : found("mind", "Opened in a browser’s tab. It works; from the home screen there is more room and no tab to close by mistake.");
}

async function lit() {
  if (!navigator.wakeLock) return found("mind", "This browser cannot keep the screen lit: set the device’s own screen time to its longest.");
  try {
    await (await navigator.wakeLock.request("screen")).release();
    return found("good", "The screen stays lit while a clock runs.");
  } catch (error) {
    return found("mind", `The screen could not be kept lit just now (${error.name}). A low battery may be the reason.`);
  }
}

function answers() {
  const has = [[navigator.vibrate, "shaking"], [window.AudioContext, "a tone"], [window.speechSynthesis, "a voice"]].filter(([one]) => one).map(([, word]) => word);
  return has.length ? found("good", `A press can be answered by ${has.join(", ")}, beside what the screen shows.`) : found("mind", "A press is answered on the screen alone.");
}

function camera() {
  if (!navigator.mediaDevices?.getUserMedia) return found("mind", "No camera can be used: type the codes of pieces.");
  return "BarcodeDetector" in window ? found("good", "The camera can read the square codes of pieces.") : found("mind", "This browser does not read square codes by itself: type the five signs beside them, or use the device’s own camera.");
}

function ticks() {
  const steps = [];
  for (let last = performance.now(), until = last + 40; last < until;) {
    const now = performance.now();
    if (now > last) steps.push(now - last);
    last = now;
  }
  const ms = Number(Math.min(...steps).toFixed(3));
  return found(ms <= 20 ? "good" : "mind", `The stopwatch ticks in steps of ${ms < 0.1 ? "less than 0.1" : ms.toFixed(1)} ms; a finger is good to about 100 ms.`, ms, "ms");
}

async function ask(path) {
  const began = performance.now();
  const answer = await fetch(path, { cache: "no-store", signal: AbortSignal.timeout(PATIENCE_MS) }).catch(() => null);
  return { answer, ms: Math.round(performance.now() - began) };
}

function span(seconds) {
  const [count, unit] = [[365 * 86_400, "year"], [86_400, "day"], [3600, "hour"], [60, "minute"]].map(([length, word]) => [seconds / length, word]).find(([n, word]) => n >= 2 || word === "minute");
  return `${Math.round(count)} ${unit}${Math.round(count) === 1 ? "" : "s"}`;
}

async function clock() {
  const { answer, ms } = await ask("/health");
  const told = Date.parse(answer?.headers.get("date") ?? "");
  if (!told) return found("unknown", "The desk does not answer, so the two clocks cannot be compared. Times of a trial do not depend on it.");
  const apart_s = Math.round((Date.now() - ms / 2 - told - 500) / 1000);
  if (Math.abs(apart_s) <= MOST_APART_S) return found("good", "This device’s clock agrees with the desk’s to within a minute.", apart_s, "s");
  return found("mind", `This device’s clock is ${span(Math.abs(apart_s))} ${apart_s > 0 ? "ahead of" : "behind"} the desk’s. Times of a trial do not depend on it, but the order of what several devices say does: set it right.`, apart_s, "s");
}

async function reach() {
  const { answer, ms } = await ask("/health");
  if (!answer?.ok) return found("mind", "The desk does not answer. Everything can be recorded all the same, and is sent when it does.");
  const { answer: marked } = await ask("/sync/mark.json");
  if (marked?.status === 401) return found("bad", "The desk answers, but has not let this device in. Ask there for a code and join.", ms, "ms");
  if (marked?.status === 403) return found("mind", "The desk answers and has let this device in as a guest, who reads and records nothing.", ms, "ms");
  return marked?.ok ? found("good", `The desk answers after ${ms} ms and takes what is recorded.`, ms, "ms") : found("mind", "The desk answers, but cannot take anything in just now.", ms, "ms");
}

function fingers() {
  return navigator.maxTouchPoints > 0 ? found("good", "It is worked by touch.", navigator.maxTouchPoints) : found("mind", "No touch screen: use the keyboard’s space bar, a mouse or a pedal.", 0);
}

/** [key, label, check] in the order in which they matter. */
export const CHECKS = [
  ["secure", "Secure address", secure],
  ["home", "Home screen", home],
  ["writing", "Writing to disk", writing],
  ["room", "Room, and a promise", room],
  ["reach", "The desk", reach],
  ["clock", "The clock of the day", clock],
  ["ticks", "The stopwatch", ticks],
  ["lit", "The screen stays lit", lit],
  ["answers", "Answer to a press", answers],
  ["fingers", "Touch", fingers],
  ["camera", "Codes of pieces", camera],
  ["offline", "Without a network", offline], // the last one: on a new device the pages are still on their way
];

/** One check, whatever happens in it. */
export async function tried([key, label, check]) {
  try {
    return { key, label, ...(await check()) };
  } catch (error) {
    console.warn(`${key}:`, error);
    return { key, label, ...found("bad", `This could not be done here (${error.name}).`) };
  }
}
