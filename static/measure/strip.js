// The strip test: strips of known expansion on a piece, and the light at each joint.
import { crack, halo, pulls } from "./drawings.js";
import { kind, make, said } from "./kind.js";
import { start } from "./page.js";
import { dueAt, numbered, placeRow } from "./placerow.js";

const DRAWINGS = { halo, cracked: crack, pulls };

function quantities({ setup }) {
  return Object.keys(kind.quantities).filter((name) => !kind.quantities[name].needs_plate || setup.plate === "yes");
}

function tasks(measured, wanted) {
  const gate = { gate: "melt", caution: true, title: "Melt the strips on", hint: "Lay thin strips of the known glasses on the piece, melt them just on, anneal, and look at each joint on edge, at 45° between the crossed sheets. Opaque glass cannot be read: use a thread.", button: "They are on and cold" };
  return [gate, ...numbered(measured, wanted).flatMap((place) => quantities(measured).map((quantity) => ({ place, quantity })))];
}

function draw({ measured, wanted }, task, go) {
  const known = (place) => measured.readings.get(`${place}/strip_expansion_1e7_per_k`);
  const seen = (place) => measured.readings.get(`${place}/halo`);
  const face = (place) => [make("b", { textContent: `${place}: ${said("strip_expansion_1e7_per_k", known(place))}` }), make("span", { className: "small", textContent: seen(place) ? `halo: ${said("halo", seen(place)).toLowerCase()}` : "not read" })];
  placeRow(numbered(measured, wanted), task, face, (place) => dueAt(measured, place, quantities(measured)), go);
}

start({ places: numbered, letter: ({ setup }) => setup.piece, tasks, draw, most: 8, drawing: (quantity, word) => DRAWINGS[quantity]?.(word) ?? null });
