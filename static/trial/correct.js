// A press that came early or late: moved after the run, with a reason. The press itself stays in the book.
import { at } from "../web/parts.js";
import { STAGES, STAGE_WORDS } from "./stages.js";
import { seconds } from "./trials.js";

const STEP_MS = 500;
const MOST_MS = 60_000;
const MOVABLE = ["kiln_out", ...STAGES];
const pressesOf = ({ presses, kiln }) => ({ ...presses, kiln_out: kiln ?? undefined });

/** How far a press may be moved (ms, both from where it is now) without passing its neighbours; before the flame comes the kiln, where that was pressed. */
export function roomOf(trial, stage) {
  const presses = pressesOf(trial);
  const place = MOVABLE.indexOf(stage);
  const gap = (a, b) => (presses[a] && presses[b] ? presses[b].wall_ms - presses[a].wall_ms : Infinity);
  return { back: -gap(MOVABLE[place - 1], stage), on: gap(stage, MOVABLE[place + 1]) };
}

function choice(stage, choose) {
  const label = document.createElement("label");
  const radio = Object.assign(document.createElement("input"), { type: "radio", name: "moved", value: stage });
  radio.addEventListener("change", () => choose(stage));
  label.append(radio, ` ${STAGE_WORDS[stage]}`);
  return label;
}

function wordsOf(shift) {
  if (!shift) return "not moved";
  return `${seconds(Math.abs(shift) / 1000)} s ${shift < 0 ? "sooner" : "later"}`;
}

/** Connects the dialog. trialNow() gives the trial; save(body) stores trial.corrected. Returns open(). */
export function correcting(trialNow, save) {
  const dialog = at("correct");
  const state = { stage: null, shift: 0 };

  function show() {
    at("moved-by").textContent = state.stage ? wordsOf(state.shift) : "choose a press";
    for (const id of ["sooner", "later"]) at(id).disabled = !state.stage;
    for (const button of dialog.querySelectorAll("[data-why]")) button.disabled = !state.shift;
  }

  function choose(stage) {
    state.stage = stage;
    state.shift = 0;
    show();
  }

  function move(step) {
    const presses = pressesOf(trialNow());
    const { back, on } = roomOf(trialNow(), state.stage);
    const before = presses[state.stage].shift_ms ?? 0;
    const wanted = state.shift + step;
    if (wanted > back && wanted < on && Math.abs(before + wanted) <= MOST_MS) state.shift = wanted;
    show();
  }

  async function keep(reason) {
    const press = pressesOf(trialNow())[state.stage];
    dialog.close();
    await save({ entry: press.id, shift_ms: (press.shift_ms ?? 0) + state.shift, reason, ...(state.stage === "kiln_out" ? { stage: "kiln_out" } : {}) });
  }

  at("sooner").addEventListener("click", () => move(-STEP_MS));
  at("later").addEventListener("click", () => move(STEP_MS));
  at("leave-presses").addEventListener("click", () => dialog.close());
  for (const button of dialog.querySelectorAll("[data-why]")) button.addEventListener("click", () => keep(button.dataset.why));
  return () => {
    at("moved-press").replaceChildren(...MOVABLE.filter((stage) => pressesOf(trialNow())[stage]).map((stage) => choice(stage, choose)));
    choose(null);
    dialog.showModal();
  };
}
