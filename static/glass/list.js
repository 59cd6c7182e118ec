// The list of glasses: chips put a word into the search; without the desk the rows already here are sifted instead.
import { entriesOfKind, onChange } from "../web/outbox.js";
import { queryWords } from "../web/search.js";
import "./heatbar.js";

const box = document.querySelector("#q");
const rows = document.querySelector("#glass-rows");
let deskAnswers = true;

for (const chip of document.querySelectorAll(".chip")) {
  chip.addEventListener("click", () => {
    box.value = box.value.trim() === chip.dataset.word ? "" : chip.dataset.word;
    box.dispatchEvent(new Event("input", { bubbles: true }));
  });
}

/** Hide the rows that lack a word of the query; the same rule as catalog.matches on the desk. */
function sift() {
  const words = queryWords(box.value);
  let shown = 0;
  for (const row of rows.querySelectorAll("[data-words]")) {
    row.hidden = !words.every((word) => row.dataset.words.includes(word));
    shown += row.hidden ? 0 : 1;
  }
  const count = rows.querySelector("#glass-count");
  if (count) count.textContent = shown ? `${shown} of the glasses kept on this device` : "No glass kept on this device holds all of these words. Try fewer of them, or enter an analysis.";
}

function deskIsGone() {
  deskAnswers = false;
  sift();
}

document.body.addEventListener("htmx:response:error", deskIsGone);
document.body.addEventListener("htmx:error", deskIsGone);
box.addEventListener("input", () => !deskAnswers && sift());
document.querySelector("form.search").addEventListener("submit", (event) => {
  event.preventDefault();
  if (!deskAnswers) sift();
});

async function showKeptHere() {
  const waiting = (await entriesOfKind("glass.added")).filter((entry) => entry.state !== "sent");
  const section = document.querySelector("#kept-here");
  section.hidden = waiting.length === 0;
  section.querySelector("ul").replaceChildren(...waiting.map(keptRow));
}

function keptRow(entry) {
  const item = document.createElement("li");
  const link = document.createElement("a");
  link.href = `/glass/new#${entry.subject}`;
  const name = document.createElement("span");
  name.className = "name";
  name.textContent = entry.body.name;
  const state = document.createElement("span");
  state.className = "small";
  state.textContent = entry.state === "refused" ? `refused by the desk: ${entry.message}` : "waiting to be sent";
  link.append(name, state);
  item.append(link);
  return item;
}

onChange(showKeptHere);
showKeptHere();
