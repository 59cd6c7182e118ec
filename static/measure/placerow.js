// The places of a test as a row of big buttons: chips of the rod, threads, strips. Touching one goes to it.
import { at, kind, make } from "./kind.js";
import { renew } from "./renew.js";

/** `face(place)` gives what stands on a button; `target(place)` the reading that it leads to. */
export function placeRow(places, task, face, target, go) {
  const row = at("place-row");
  row.hidden = places.length < 2;
  renew(row, ...places.map((place) => {
    const button = make("button", { type: "button", className: "place" }, ...face(place));
    if (task?.place === place) button.setAttribute("aria-current", "true");
    button.onclick = () => go(target(place));
    return button;
  }));
}

/** The first reading of a place that is due, or its first. */
export function dueAt(measured, place, quantities) {
  const due = quantities.find((name) => !kind.quantities[name].optional && !measured.readings.has(`${place}/${name}`));
  return `${place}/${due ?? quantities[0]}`;
}

/** Numbers of the places that were read, and as many as are wanted. */
export function numbered(measured, wanted) {
  const read = [...measured.readings.keys(), ...measured.history.keys()].map((id) => Number(id.split("/")[0]));
  return Array.from({ length: Math.max(wanted, 1, ...read) }, (_x, i) => String(i + 1));
}
