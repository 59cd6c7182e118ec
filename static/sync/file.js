// The file of what a tablet holds, for a desk that it cannot reach: one entry a line, below a line that says how many there are and what their SHA-256 is, so that a file which was cut or changed on the way is noticed.
import { allHeld } from "../web/held.js";
import { bare, deviceId, everyEntry, newId } from "../web/outbox.js";

const FORMAT = 2;
const HEX = (bytes) => [...new Uint8Array(bytes)].map((byte) => byte.toString(16).padStart(2, "0")).join("");

/** SHA-256 as hexadecimal; "" where the page's address is not a secure one and the browser reckons none. */
async function seal(bytes) {
  return globalThis.crypto?.subtle ? HEX(await crypto.subtle.digest("SHA-256", bytes)) : "";
}

/** The file's bytes for these rows of the outbox. */
export async function fileOf(rows, device, now = Date.now()) {
  const lines = rows.map((row) => `${JSON.stringify({ ...bare(row), state: row.state, code: row.code, message: row.message })}\n`).join("");
  const bytes = new TextEncoder().encode(lines);
  const about = { isokom_entries: FORMAT, device, made_ms: now, entries: rows.length, sha256: await seal(bytes) };
  return new Blob([`${JSON.stringify(about)}\n`, bytes], { type: "application/json" });
}

/** All that this tablet has, also what its own store refused. */
async function everyRow(device) {
  const read = await everyEntry().catch(() => null);
  const rows = read ?? [];
  const stored = new Set(rows.map(({ id }) => id));
  const held = allHeld().filter(({ id }) => !stored.has(id)).map((draft) => ({ ...draft, device, state: "held", code: "", message: "" }));
  return { all: [...rows, ...held], isWhole: read !== null };
}

/** Save the entries whose state is among these (all where null) under a name that tells tablet and moment; resolves with how many, and whether the store could be read. */
export async function saveFile(states = null) {
  const device = await deviceId().catch(() => localStorage.getItem("isokom-device") ?? newId());
  const { all, isWhole } = await everyRow(device);
  const rows = all.filter((row) => !states || states.includes(row.state)).sort((a, b) => (a.id < b.id ? -1 : 1));
  if (!rows.length && !isWhole) return { count: 0, isWhole };
  const moment = new Date().toISOString().slice(0, 16).replace(/[:T]/g, "-");
  const href = URL.createObjectURL(await fileOf(rows, device));
  Object.assign(document.createElement("a"), { href, download: `isokom-entries-${device.slice(-6)}-${moment}.json` }).click();
  setTimeout(() => URL.revokeObjectURL(href), 60_000);
  return { count: rows.length, isWhole };
}
