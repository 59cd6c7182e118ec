// A device tries itself, says what it found, and keeps it with its number.
import { deviceId, fact, NotKept, record } from "../web/outbox.js";
import { at, complain, make, oneLine } from "../web/parts.js";
import { CHECKS, tried } from "./checks.js";
import { UNTRIED, watchLocked } from "./locked.js";

const SIGNS = { good: "✓", mind: "!", bad: "✗", unknown: "?" };
const SAID = { good: "Good", mind: "To be known", bad: "Not fit", unknown: "Not tried" };
const state = { checks: [], locked: UNTRIED };

function row({ label, result, words }) {
  const sign = make("span", { className: "sign", textContent: SIGNS[result] });
  sign.setAttribute("aria-hidden", "true");
  return make("li", { className: result }, sign, make("span", { className: "label", textContent: label }, make("span", { className: "skip", textContent: `: ${SAID[result]}` })), make("span", { textContent: words }));
}

const every = () => [...state.checks, state.locked];

function verdict() {
  const bad = every().filter((one) => one.result === "bad");
  if (bad.length) return `Not fit for the bench yet: ${bad.map((one) => one.label.toLowerCase()).join(", ")}.`;
  const mind = every().filter((one) => one.result === "mind").length;
  return `Fit for the bench.${mind ? ` ${mind} ${mind === 1 ? "thing" : "things"} to know below.` : ""}${state.locked.result === "unknown" ? " One thing is left to try: the locked screen." : ""}`;
}

function draw() {
  at("verdict").textContent = verdict();
  at("checks").replaceChildren(...every().map(row));
  at("keep-result").disabled = false;
}

async function tryAll() {
  at("keep-result").disabled = true;
  at("kept").hidden = true;
  state.checks = [];
  for (const check of CHECKS) {
    state.checks.push(await tried(check));
    at("checks").replaceChildren(...state.checks.map(row));
  }
  draw();
  document.documentElement.dataset.ready = "device";
}

async function keep() {
  at("keep-result").disabled = true; // once: another is kept after another try
  const name = oneLine((await fact("device-name").catch(() => "")) ?? "").slice(0, 80);
  const body = { name, agent: oneLine(navigator.userAgent).slice(0, 300), checks: every() };
  try {
    await record("device.tested", await deviceId(), body);
    complain("kept", "Kept. The desk shows it under “Devices” once it has heard.");
  } catch (error) {
    at("keep-result").disabled = false;
    complain("kept", error.message);
    if (!(error instanceof NotKept)) throw error;
  }
}

const begin = watchLocked(
  (words) => (at("locked-words").textContent = words),
  (check) => {
    state.locked = check;
    at("locked-words").textContent = check.words;
    draw();
  },
);
at("try-locked").addEventListener("click", begin);
at("again").addEventListener("click", tryAll);
at("keep-result").addEventListener("click", keep);
await tryAll();
