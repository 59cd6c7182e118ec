// On every page: the worker, sending, the sync word, bright or dim, and a sentence when the desk does not answer a request.
import { tryHeld } from "../web/again.js";
import { counts, onChange } from "../web/outbox.js";
import { startPrinting } from "../web/print.js";
import { watchWide } from "../web/wide.js";
import { isAnyRunning } from "../trial/trials.js";
import { askForHome, sayOtherPlace, sayUnreadable } from "./place.js";
import { onDesk, startPushing } from "./push.js";

let desk = "unknown";
const HELD_AGAIN_MS = 10_000;
const RECORDS = /^\/(bench|finds|glass\/new)/;
let hasAsked = false;
let isPlaceSaid = false;

function syncWord({ waiting, refused, held }) {
  const parked = [held && `${held} not stored yet`, refused && `${refused} refused`].filter(Boolean).join(" · ");
  const away = { unreachable: "Desk not reachable · nothing waits", troubled: "Desk in trouble · nothing waits", locked: "Not joined · nothing waits", guest: "Guest: reads, sends nothing" }[desk];
  if (!waiting) return [parked || (away ?? "All sent"), parked ? "refused" : "sent"];
  const waits = {
    sending: "Sending…",
    unreachable: `Desk not reachable · ${waiting} kept here`,
    troubled: `Desk cannot store now · ${waiting} kept here`,
    locked: `Not joined · ${waiting} kept here`,
    guest: `Guest · ${waiting} kept here`,
  };
  return [[waits[desk] ?? `${waiting} to send`, parked].filter(Boolean).join(" · "), parked ? "refused" : "waiting"];
}

async function showSyncWord() {
  const [words, state, isBroken = false] = await counts().then(syncWord, () => ["This device's store cannot be read", "refused", true]);
  for (const place of document.querySelectorAll("#sync-word, [data-sync-word]")) {
    if (place.textContent !== words) place.textContent = words;
    place.dataset.state = state;
  }
  sayUnreadable(isBroken);
}

function isDark() {
  const kept = document.documentElement.dataset.theme;
  return kept ? kept === "dark" : matchMedia("(prefers-color-scheme: dark)").matches;
}

function showTheme() {
  for (const place of document.querySelectorAll("#theme-switch, [data-theme-switch]")) {
    place.hidden = false;
    place.textContent = isDark() ? "Bright" : "Dim";
  }
}

function switchTheme() {
  const next = isDark() ? "light" : "dark";
  document.documentElement.dataset.theme = next;
  localStorage.setItem("isokom-theme", next);
  showTheme();
}

async function showNewVersion(registration) {
  const isBusy = await isAnyRunning().catch(() => true);
  document.querySelector("#new-version").hidden = !registration.waiting || isBusy;
}

function watch(registration) {
  const show = () => showNewVersion(registration);
  registration.addEventListener("updatefound", () => registration.installing?.addEventListener("statechange", show));
  document.querySelector("#new-version button").addEventListener("click", () => {
    hasAsked = true;
    registration.waiting?.postMessage("skip-waiting");
  });
  onChange(show);
  setInterval(() => document.visibilityState === "visible" && registration.update().catch(() => {}), 60_000);
  show();
}

function reloadOnce() {
  if (!hasAsked) return;
  hasAsked = false;
  location.reload();
}

async function startWorker() {
  if (!("serviceWorker" in navigator)) return;
  navigator.serviceWorker.addEventListener("controllerchange", reloadOnce);
  try {
    watch(await navigator.serviceWorker.register("/sw.js", { updateViaCache: "none" }));
  } catch (error) {
    console.warn("no offline shell:", error.message);
  }
}

async function askToPersist() {
  if (!navigator.storage?.persist || localStorage.getItem("isokom-persist")) return;
  localStorage.setItem("isokom-persist", String(await navigator.storage.persist()));
}

function say(sentence) {
  let place = document.querySelector("#desk-trouble");
  if (!place) {
    place = Object.assign(document.createElement("p"), { id: "desk-trouble", className: "notice" });
    place.setAttribute("role", "status");
    document.querySelector("#main").prepend(place);
  }
  place.textContent = sentence;
}

/** On a page that the desk drew: from when this copy is, while the desk does not answer. */
function showAsOf() {
  for (const place of document.querySelectorAll("[data-made-ms]")) {
    const made = new Date(Number(place.dataset.madeMs)).toLocaleString(undefined, { dateStyle: "medium", timeStyle: "short" });
    place.textContent = `The desk does not answer. This copy is from ${made}; what the desk has taken in since then is not in it.`;
    place.hidden = !["unreachable", "troubled", "locked"].includes(desk);
  }
}

document.addEventListener("htmx:error", () => !document.querySelector("[data-made-ms]") && say("The desk does not answer. What you see is from before; what you recorded is kept here."));
document.addEventListener("htmx:response:error", () => say("The desk could not answer that. Nothing was changed; try again in a moment."));
document.addEventListener("htmx:after:swap", ({ detail }) => {
  if (detail?.ctx?.response?.status >= 400) return; // it is raised for refusals as well
  document.querySelector("#desk-trouble")?.remove();
  showAsOf();
});
document.addEventListener("submit", (event) => {
  if (event.target.method !== "post" || event.defaultPrevented || (desk !== "unreachable" && navigator.onLine)) return;
  event.preventDefault();
  say("The desk does not answer, so this cannot be sent now. What you typed stays here; try again when the desk is back.");
});
startPrinting();
for (const place of document.querySelectorAll("#theme-switch, [data-theme-switch]")) place.addEventListener("click", switchTheme);

showTheme();
watchWide();
onChange(showSyncWord);
onDesk((now) => {
  desk = now;
  showSyncWord();
  showAsOf();
  if (now === "guest" && RECORDS.test(location.pathname)) say("This device is a guest of the desk. What it records stays on it, and is sent only after it has joined again with a code for the bench.");
  if (!["reached", "guest"].includes(now) || isPlaceSaid) return;
  isPlaceSaid = true;
  sayOtherPlace();
});
askForHome();
startPushing();
tryHeld();
setInterval(tryHeld, HELD_AGAIN_MS);
startWorker();
askToPersist();
