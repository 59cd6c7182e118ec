// The thread test: length, thickness and bow of each thread, and which glass lies inside.
import { inside, threadToRead } from "./drawings.js";
import { at, make, saidWhole } from "./kind.js";
import { start } from "./page.js";
import { dueAt, numbered, placeRow } from "./placerow.js";

const QUANTITIES = ["length_mm", "thickness_mm", "share_a", "inside", "bow_mm", "bow_turned_mm"];

function tasks(measured, wanted) {
  const gate = { gate: "pull", caution: true, title: "Pull and cut the threads", hint: "Equal amounts side by side, pulled straight and evenly, held until set. Cut three lengths from the middle and lay each on the table beside the ruler, free to turn.", button: "A thread lies there" };
  return [gate, ...numbered(measured, wanted).flatMap((place) => QUANTITIES.map((quantity) => ({ place, quantity })))];
}

function draw({ measured, wanted }, task, go) {
  at("picture").hidden = !task || task.quantity === "inside";
  at("picture").replaceChildren(threadToRead(task?.quantity));
  const face = (place) => [make("b", { textContent: place }), make("span", { className: "small", textContent: measured.readings.has(`${place}/bow_mm`) ? `bow ${saidWhole("bow_mm", measured.readings.get(`${place}/bow_mm`))}` : "not read" })];
  placeRow(numbered(measured, wanted), task, face, (place) => dueAt(measured, place, QUANTITIES), go);
}

start({ places: numbered, tasks, draw, most: 6, drawing: (quantity, word) => (quantity === "inside" ? inside(word) : null) });
