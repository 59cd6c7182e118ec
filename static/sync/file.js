// The file of what a tablet holds, for a desk that it cannot reach: one entry a line, below a line that says how many there are and what their SHA-256 is, so that a file which was cut or changed on the way is noticed.
import { bare, deviceId, everyEntry } from "../web/outbox.js";

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

/** Save the entries whose state is among these (all where null) under a name that tells tablet and moment; resolves with how many. */
export async function saveFile(states = null) {
  const rows = (await everyEntry()).filter((row) => !states || states.includes(row.state)).sort((a, b) => (a.id < b.id ? -1 : 1));
  const device = await deviceId();
  const moment = new Date().toISOString().slice(0, 16).replace(/[:T]/g, "-");
  const href = URL.createObjectURL(await fileOf(rows, device));
  Object.assign(document.createElement("a"), { href, download: `isokom-entries-${device.slice(-6)}-${moment}.json` }).click();
  setTimeout(() => URL.revokeObjectURL(href), 60_000);
  return rows.length;
}
