// Which of several statements counts: one more like it, which comes after all of them, is recorded on this very device. The page is read anew once the desk has heard.
import { NotKept, onChange, record } from "../web/outbox.js";

let reload = false;

function say(section, words) {
  const place = section.querySelector(".settled");
  place.textContent = words;
  place.hidden = false;
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
  say(section, "Decided. It is written down here, and counts everywhere once the desk has heard.");
}

for (const button of document.querySelectorAll(".counts")) button.addEventListener("click", () => choose(button));
for (const time of document.querySelectorAll("time[data-ms]")) time.textContent = new Date(Number(time.dataset.ms)).toLocaleString(undefined, { dateStyle: "long", timeStyle: "short" });
onChange((what) => reload && what === "marked" && location.reload());
document.documentElement.dataset.ready = "differences";
