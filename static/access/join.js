// A device joins the desk: the code comes by the square (in the address's fragment, which is never sent) or is typed; the pass comes back as a cookie that no script can read.
import { counts, fact, keepFact } from "../web/outbox.js";
import { isAppleDevice, isAppleTab } from "../web/home.js";
import { at, complain, oneLine } from "../web/parts.js";

const PATIENCE_MS = 10_000;
const NAME = "device-name";
const scanned = new URLSearchParams(location.hash.slice(1)).get("c");
if (location.hash) history.replaceState(null, "", location.pathname);
if (scanned) at("code").value = scanned.length === 10 ? `${scanned.slice(0, 5)} ${scanned.slice(5)}` : scanned;
at("from-home").hidden = !isAppleTab();

function usualName() {
  if (isAppleDevice()) return "iPad";
  return /Android/.test(navigator.userAgent) ? "Tablet" : "Computer";
}

async function ask(code, name) {
  const answer = await fetch("/join", {
    method: "POST",
    headers: { "Content-Type": "application/json", Accept: "application/json" },
    body: JSON.stringify({ code, name, kind: "device" }),
    signal: AbortSignal.timeout(PATIENCE_MS),
  });
  return { ok: answer.ok, told: await answer.json() };
}

// The answer may have been lost on its way and the pass have come all the same.
async function isIn() {
  const answer = await fetch("/sync/mark.json", { cache: "no-store", signal: AbortSignal.timeout(PATIENCE_MS) }).catch(() => null);
  return Boolean(answer) && [200, 403].includes(answer.status);
}

// What an earlier pass let this device read is not for a later, smaller one; the worker makes its shell anew. What was recorded is kept elsewhere.
async function forgetPages() {
  const registrations = (await navigator.serviceWorker?.getRegistrations()) ?? [];
  await Promise.all(registrations.map((one) => one.unregister()));
  for (const name of await caches.keys()) await caches.delete(name);
}

async function join(event) {
  event.preventDefault();
  const [code, name] = [at("code").value.trim(), oneLine(at("device-name").value)];
  if (complain("join-error", code && name ? "" : "Type the code and a name.")) return;
  at("join-button").disabled = true;
  try {
    const { ok, told } = await ask(code, name);
    if (complain("join-error", ok ? "" : told.detail)) return;
    await keepFact(NAME, name).catch((error) => console.warn("the name was not kept:", error.message));
    await forgetPages();
    location.replace(told.role === "guest" ? "/" : "/device"); // a guest records nothing, so there is nothing to try
  } catch (error) {
    console.warn(error.message);
    if (await isIn()) return location.replace("/");
    complain("join-error", "The desk’s answer did not arrive. Try the code once more; if it is refused now, it was used up by this try: ask for a new one.");
  } finally {
    at("join-button").disabled = false;
  }
}

const kept = await fact(NAME).catch(() => null);
if (!at("device-name").value) at("device-name").value = kept ?? usualName();
const { waiting } = await counts().catch(() => ({ waiting: 0 }));
complain("waits", waiting ? `${waiting} ${waiting === 1 ? "entry waits" : "entries wait"} on this device and will be sent once it has joined.` : "");
at("join-form").addEventListener("submit", join);
document.documentElement.dataset.ready = "join";
