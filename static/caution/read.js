// A caution that was read is put away for this working day, and the log says so; other words are shown anew.
import { newId, record } from "../web/outbox.js";

const DAY_MS = 12 * 3_600_000;
const place = (key) => `isokom-caution:${key}`;

function isAway({ caution, wording }) {
  const kept = JSON.parse(localStorage.getItem(place(caution)) ?? "null");
  return kept?.wording === wording && Date.now() - kept.at_ms < DAY_MS && Date.now() >= kept.at_ms;
}

function show(aside, isShown) {
  aside.querySelector("[data-caution-words]").hidden = !isShown;
  aside.querySelector("[data-caution-again]").hidden = isShown;
}

async function read(aside) {
  const { caution, wording } = aside.dataset;
  await record("caution.read", newId(), { caution, wording, page: location.pathname.slice(0, 80) });
  localStorage.setItem(place(caution), JSON.stringify({ wording, at_ms: Date.now() }));
  show(aside, false);
}

for (const aside of document.querySelectorAll("[data-caution]")) {
  show(aside, !isAway(aside.dataset));
  aside.querySelector("[data-caution-read]").addEventListener("click", () => read(aside));
  aside.querySelector("[data-caution-again]").addEventListener("click", () => show(aside, true));
}
