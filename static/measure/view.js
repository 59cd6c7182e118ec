// Draws a running test from its state; decides nothing.
import { LETTERS, at, kind, make, said, saidWhole } from "./kind.js";
import { renew } from "./renew.js";
import { STATUS_WORDS, glassWords, nameOf } from "./tests.js";

/** A sentence that must be seen; "" takes it away. */
export function showAlarm(sentence) {
  at("alarm").hidden = !sentence;
  at("alarm").textContent = sentence;
}

/** What could not be written into the ledger of a piece, in sentences. */
export function showLedger(sentences) {
  at("ledger-word").hidden = !sentences.length;
  at("ledger-word").textContent = sentences.join(" ");
}

function status({ status: key, reason }) {
  if (key === "stopped") return `Stopped: ${reason}. What was read stays in the book.`;
  return key === "kept" ? "Kept." : "";
}

export function showTop({ measured }) {
  at("run-lead").textContent = [nameOf(measured), STATUS_WORDS[measured.status] && status(measured)].filter(Boolean).join(". ");
  at("session-part").hidden = !measured.session;
  at("to-session").href = `/bench/session?s=${measured.session}`;
  const isByCode = measured.isCovered && measured.test === "fuse";
  at("letters").replaceChildren(...(isByCode ? [] : measured.glasses).map((glass, i) => make("li", {}, make("span", { className: "letter", textContent: LETTERS[i] }), ` ${glassWords(glass)}`)));
  at("notes").replaceChildren(...measured.notes.map((text) => make("li", { textContent: text })));
  at("task").hidden = measured.status === "stopped";
  at("stop-part").hidden = measured.status !== "running";
}

/** "Chip 2, glass B"; on a session's board "Square a1, glass B, dish KX", without its glass while the session is covered. */
export function placeWords({ plan, measured }, place) {
  const code = measured.dishes.find((dish) => dish.place === place)?.code;
  const letter = code && measured.isCovered ? "" : plan.letter?.(measured, place);
  return [`${kind.place} ${place}`, letter && `glass ${letter}`, code && `dish ${code}`].filter(Boolean).join(", ");
}

function missing({ measured }, all) {
  const due = all.filter((task) => !task.gate && !kind.quantities[task.quantity].optional && !measured.readings.has(`${task.place}/${task.quantity}`));
  if (!due.length) return "";
  const told = due.slice(0, 4).map((task) => `${kind.place.toLowerCase()} ${task.place} ${kind.quantities[task.quantity].short.toLowerCase()}`);
  return `Not read yet: ${told.join(", ")}${due.length > 4 ? ` and ${due.length - 4} more` : ""}.`;
}

function doneWords(state, all) {
  const lacking = missing(state, all);
  if (state.measured.status === "kept") return { title: "This test is kept", hint: `${lacking} Touch a reading to change it; then it asks for the reason.`.trim(), next: "" };
  if (!state.measured.readings.size) return { title: "Nothing is read yet", hint: lacking, next: "" };
  return { title: lacking ? "Keep it as it is?" : "All is read", hint: lacking || "Look at the readings below, then keep them.", next: state.measured.session ? "Keep, on with the session" : "Keep" };
}

function nextWords(state, task, following) {
  if (state.measured.status === "kept") return "Done";
  if (!following) return "To the end";
  if (following.gate) return "Next";
  const short = kind.quantities[following.quantity].short;
  return following.place === task.place ? `Next: ${short.toLowerCase()}` : `Next: ${kind.place.toLowerCase()} ${following.place}`;
}

/** {title, hint, next} of the card. */
export function taskWords(state, task, following, all) {
  if (!task) return doneWords(state, all);
  if (task.gate) return { title: task.title, hint: task.hint, next: task.button };
  const isOutside = !all.some((one) => one.place === task.place && one.quantity === task.quantity);
  const next = isOutside && state.measured.status === "running" ? "Back to the board" : nextWords(state, task, following);
  return { title: placeWords(state, task.place), hint: "", next };
}

function cell({ measured, at: shown }, place, quantity, go) {
  const id = `${place}/${quantity}`;
  const changes = measured.history.get(id)?.length ?? 0;
  const button = make("button", { type: "button", className: "reading", textContent: `${said(quantity, measured.readings.get(id))}${changes > 1 ? " *" : ""}` });
  button.setAttribute("aria-label", `${kind.place} ${place}, ${kind.quantities[quantity].short.toLowerCase()}: ${saidWhole(quantity, measured.readings.get(id))}`);
  if (id === shown) button.setAttribute("aria-current", "true");
  button.onclick = () => go(id);
  return make("td", {}, button);
}

/** The table of readings; touching one goes to it. */
export function showReadings(state, all, go) {
  const asked = new Set(all.filter((task) => !task.gate).map((task) => task.quantity));
  const quantities = Object.keys(kind.quantities).filter((name) => asked.has(name) || (kind.quantities[name].letters && asked.size && !state.measured.isCovered));
  const places = state.plan.places(state.measured, state.wanted);
  const heads = quantities.map((name) => {
    const { short, unit } = kind.quantities[name];
    return make("th", { scope: "col", textContent: unit ? `${short}, ${unit}` : short });
  });
  const rows = places.map((place) => make("tr", {}, make("th", { scope: "row", textContent: placeWords(state, place) }), ...quantities.map((name) => cell(state, place, name, go))));
  at("readings-part").hidden = places.length === 0;
  renew(at("readings").tHead, make("tr", {}, make("th", { scope: "col", textContent: "Where" }), ...heads));
  renew(at("readings").tBodies[0], ...rows);
}
