// Which of several statements counts: one more like it, which comes after all of them, is recorded on this very device. The page is read anew once the desk has heard.
import { NotKept, entriesOf, onChange, record } from "../web/outbox.js";

const DECIDED = "Decided. It is written down here, and counts everywhere once the desk has heard.";
let reload = false;

function say(section, words) {
  const place = section.querySelector(".settled");
  place.textContent = words;
  place.hidden = false;
}

// What was decided here while the desk was away is not asked again.
async function showDecided(section) {
  const { subject } = section.querySelector(".counts").dataset;
  const choices = [...section.querySelectorAll(".counts")];
  const isOne = (entry) => choices.some(({ dataset: { kind, body, after } }) => entry.kind === kind && entry.at_ms > Number(after) && JSON.stringify(entry.body) === JSON.stringify(JSON.parse(body)));
  const own = (await entriesOf(subject).catch(() => [])).filter((entry) => entry.state !== "sent" && isOne(entry));
  if (!own.length) return;
  for (const one of choices) one.disabled = true;
  reload = true;
  say(section, own.some(({ state }) => state === "refused") ? "What you decided here was refused by the desk: see “Sending”." : DECIDED);
}

async function choose(button) {
  const section = button.closest(".difference");
  const buttons = section.querySelectorAll(".counts");
  const { kind, subject, body, after } = button.dataset;
  for (const one of buttons) one.disabled = true;
  try {
    await record(kind, subject, JSON.parse(body), { at_ms: Math.max(Date.now(), Number(after) + 1) });
  } catch (error) {
    for (const one of buttons) one.disabled = false;
    say(section, error.message);
    if (!(error instanceof NotKept)) throw error;
    return;
  }
  reload = true;
  say(section, DECIDED);
}

for (const button of document.querySelectorAll(".counts")) button.addEventListener("click", () => choose(button));
for (const time of document.querySelectorAll("time[data-ms]")) time.textContent = new Date(Number(time.dataset.ms)).toLocaleString(undefined, { dateStyle: "long", timeStyle: "short" });
for (const section of document.querySelectorAll(".difference")) await showDecided(section);
onChange((what) => reload && what === "marked" && location.reload());
document.documentElement.dataset.ready = "differences";
