// What waits on this tablet, what the desk refused and why, and a file with everything.
import { allHeld } from "../web/held.js";
import { deviceId, everyEntry, markWaiting, onChange } from "../web/outbox.js";
import { at, complain, joined } from "../web/parts.js";
import { saveFile } from "./file.js";
import { flush, onDesk } from "./push.js";

const WORDS = {
  "trial.started": "Into the flame", "trial.pressed": "A press", "trial.taken_back": "A press taken back", "trial.noted": "A note",
  "trial.abandoned": "A trial stopped", "trial.kept": "A trial kept", "glass.added": "An own glass",
  "find.opened": "A find", "find.changed": "A find changed", "find.consent": "What the keeper said", "piece.added": "A piece", "piece.changed": "A piece changed",
  "piece.weighed": "A weighing", "piece.cut": "A cut", "piece.used": "A use in a test", "piece.lost": "A loss", "piece.returned": "A return", "piece.undone": "A row taken back", "piece.photo": "A photo",
  "measure.started": "A measured test set up", "measure.read": "A reading", "measure.photo": "A photo", "measure.noted": "A note", "measure.kept": "A measured test kept", "measure.abandoned": "A measured test stopped",
  "trial.corrected": "A press corrected", "trial.left_out": "A time left out", "trial.taken_in": "A time that counts again", "plan.made": "A session planned", "plan.conditions": "A change of conditions", "plan.unblinded": "An uncovering", "plan.skipped": "A dish left out",
  "plan.done": "A dish done", "plan.reopened": "A dish to be done after all", "plan.closed": "A session closed", "caution.read": "A caution read", "finding.margin": "A margin set", "device.tested": "What this device found about itself",
  "firing.started": "A firing begun", "firing.begun": "When a firing began", "firing.read": "A reading of the kiln", "firing.taken_back": "A reading or an end taken back", "firing.ended": "A firing ended",
};
const MAX_ROWS = 100;
let names = new Map();
let desk = "unknown";

function row(entry) {
  const time = new Date(entry.at_ms).toLocaleString(undefined, { dateStyle: "medium", timeStyle: "medium" });
  const item = document.createElement("li");
  const what = [WORDS[entry.kind] ?? entry.kind, names.get(entry.subject), time].filter(Boolean).join(", ");
  const words = Object.assign(document.createElement("p"), { textContent: what });
  item.append(words);
  if (entry.message) item.append(Object.assign(document.createElement("p"), { className: "field-error", textContent: entry.message }));
  return item;
}

function showList(name, entries) {
  at(`${name}-part`).hidden = entries.length === 0;
  at(`${name}-list`).replaceChildren(...entries.slice(0, MAX_ROWS).map(row));
}

const ALL_SENT = "All sent: the desk has confirmed everything that this tablet has recorded";
const AWAY = { unreachable: "It does not answer just now.", troubled: "It is in trouble just now.", locked: "It no longer knows this device.", guest: "This device is its guest now." };

function leadFor(waiting, refused, held) {
  if (!waiting && !refused && !held) return `${ALL_SENT}.${AWAY[desk] ? ` ${AWAY[desk]}` : ""}`;
  const parts = [];
  if (held) parts.push(`${held} not stored yet`);
  if (waiting) parts.push(`${waiting} ${waiting === 1 ? "entry waits" : "entries wait"} for the desk`);
  if (refused) parts.push(`${refused} ${refused === 1 ? "was" : "were"} refused`);
  return `${parts.join(", ")}. Nothing is lost: all of it is kept here.`;
}

const NAMING = new Set(["trial.started", "glass.added", "find.opened", "piece.added"]);

/** What an entry is about: the piece or glass of its trial, the own glass's name, the find or piece. */
function namesIn(entries) {
  const starts = entries.filter((entry) => NAMING.has(entry.kind));
  return new Map(starts.map(({ subject, body }) => [subject, body.code && body.session ? `dish ${body.code}` : body.piece ?? body.label ?? body.name ?? (body.number ? `find ${body.number}` : body.glass_name)]));
}

const UNREADABLE = "This device’s store cannot be read just now, so nobody can say what waits. What was recorded may still be in it: clear nothing.";

async function showAll() {
  const read = await everyEntry().catch(() => null);
  const entries = read ?? [];
  const stored = new Set(entries.map(({ id }) => id));
  const held = allHeld().filter(({ id }) => !stored.has(id));
  names = namesIn([...entries, ...held]);
  const of = (state) => entries.filter((entry) => entry.state === state);
  at("send-lead").textContent = read ? leadFor(of("waiting").length, of("refused").length, held.length) : UNREADABLE;
  at("save-unsent").hidden = !of("waiting").length && !of("refused").length && !held.length;
  showList("held", held);
  showList("waiting", of("waiting"));
  showList("refused", of("refused"));
  at("total").textContent = read ? String(entries.length) : "not known";
  document.documentElement.dataset.ready = "sync";
}

const show = joined(showAll);
const UNSENT = ["held", "waiting", "refused"];

async function save(states) {
  const { count, isWhole } = await saveFile(states);
  if (!isWhole) return complain("saved", count ? `The store of this device cannot be read: in the file ${count === 1 ? "is the one entry" : `are the ${count} entries`} kept beside it, and no others.` : "The store of this device cannot be read, so no file could be made.");
  complain("saved", `${count} ${count === 1 ? "entry is" : "entries are"} in the file. At any desk: “Other machines”, “Take it in”. They stay here as well.`);
}

// What the desk has already, it answers with "same": offering again can only mend, never double.
async function offerAgain(state) {
  const again = (await everyEntry()).filter((entry) => entry.state === state);
  await markWaiting(again.map((entry) => entry.id));
  flush();
}

at("send-now").addEventListener("click", flush);
at("save-all").addEventListener("click", () => save(null));
at("save-unsent").addEventListener("click", () => save(UNSENT));
at("offer-again").addEventListener("click", () => offerAgain("refused"));
at("offer-all").addEventListener("click", () => offerAgain("sent"));
onChange(show);
onDesk((now) => {
  desk = now;
  at("send-now").disabled = desk === "sending";
  at("locked").hidden = desk !== "locked";
  at("guest").hidden = desk !== "guest";
  show();
});
at("device").textContent = await deviceId().catch(() => localStorage.getItem("isokom-device") ?? "not known");
at("persist").textContent = (await navigator.storage?.persisted?.()) ? "this browser has promised to keep it" : "this browser gives no promise: send often";
show();
