// The one form for what is done with a piece: weighed, cut, used in a test, lost, returned.
import { record } from "../web/outbox.js";
import { keepDraft } from "./draft.js";
import { kept } from "./facts.js";
import { addPiece, beyond, today } from "./finds.js";
import { againstUse } from "./ledger.js";
import { at, complain, make, numberFrom, oneLine } from "./parts.js";
import { grams } from "./sentences.js";

const MOST_G = 100_000;
const MASS_WORDS = { weighed: "Mass on the scales", cut: "Mass that came off", used: "Mass used up", lost: "Mass lost", returned: "Mass returned" };
const SAID = { weighed: "Weighed", cut: "Cut", used: "Used", lost: "Lost", returned: "Returned" };
const form = at("act-form");
const actNow = () => form.elements.act.value;
let now = () => null;

/** Show the fields of the chosen act, and what stands against a use. */
function show() {
  const act = actNow();
  const shown = new Set([act, act === "cut" && !form.elements.into.value ? "cut-new" : ""]);
  for (const part of form.querySelectorAll("[data-for]")) part.hidden = !shown.has(part.dataset.for);
  at("mass-word").textContent = MASS_WORDS[act];
  showAgainst();
}

function showAgainst() {
  const { find, piece, pieces } = now();
  const mass_g = numberFrom(form.elements.mass_g.value) ?? null;
  const said = actNow() === "used" && piece.left_g !== null ? againstUse(find, pieces, piece, mass_g, form.elements.test.value, today()) : [];
  at("against").hidden = said.length === 0;
  at("against-list").replaceChildren(...said.map((sentence) => make("li", "", sentence)));
}

function massWrong(act, mass_g, u_g) {
  if (mass_g === undefined || mass_g === null || mass_g > MOST_G) return "Give the mass in grams, for example 2,5.";
  if (act === "weighed") return u_g === null || u_g > MOST_G ? "Give the ± of the scales in grams, for example 0,01, or leave it blank." : "";
  return mass_g <= 0 ? "Give a mass above nothing." : beyond(now().piece, mass_g);
}

function wrongNow(act, mass_g, u_g) {
  const wrong = massWrong(act, mass_g, u_g);
  if (wrong) return wrong;
  if (act === "cut" && !form.elements.into.value && !oneLine(form.elements.label.value)) return "Give the new piece a label.";
  if (act === "lost" && !oneLine(form.elements.why.value)) return "Say how it was lost.";
  if (act === "used" && !at("against").hidden && !at("all-the-same").checked) return "Something stands against this use. If it has happened all the same, tick it.";
  return "";
}

async function cut(piece, pieces, mass_g) {
  const { find, colour, opacity, condition, glass_key, glass_name, link } = piece.facts;
  const facts = { find, label: oneLine(form.elements.label.value), colour, opacity, condition, glass_key, glass_name, link, note: "" };
  let into = form.elements.into.value;
  if (!into) {
    into = await addPiece(facts, pieces);
    form.elements.into.append(Object.assign(make("option", "", facts.label), { value: into })); // should the cut itself be refused, a repeat finds its piece
    form.elements.into.value = into;
  }
  await record("piece.cut", piece.id, { into, mass_g });
}

async function write(act, mass_g, u_g) {
  const { piece, pieces } = now();
  if (act === "cut") return cut(piece, pieces, mass_g);
  const bodies = {
    weighed: { mass_g, u_g: u_g ?? null },
    used: { mass_g, test: form.elements.test.value, trial: null },
    lost: { mass_g, why: oneLine(form.elements.why.value) },
    returned: { mass_g, to: oneLine(form.elements.to.value) },
  };
  return record(`piece.${act}`, piece.id, bodies[act]);
}

async function writeDown(draft, event) {
  event.preventDefault();
  const act = actNow();
  const [mass_g, u_g] = [numberFrom(form.elements.mass_g.value), numberFrom(form.elements.u_g.value)];
  showAgainst();
  if (complain("act-error", wrongNow(act, mass_g, u_g))) return;
  if (!(await kept("act-error", () => write(act, mass_g, u_g)))) return;
  draft.drop();
  form.reset();
  show();
  at("act-said").textContent = `${SAID[act]}: ${grams(mass_g)} g is written down.`;
}

/** The pieces of the same find that a cut can go into; the chosen one stays chosen. */
export function drawInto(piece, pieces) {
  const others = pieces.filter((one) => one.facts.find === piece.facts.find && one.id !== piece.id);
  const chosen = form.elements.into.value;
  const options = others.map((one) => Object.assign(make("option", "", `${one.facts.label} (${one.facts.code})`), { value: one.id }));
  form.elements.into.replaceChildren(Object.assign(make("option", "", "a new piece"), { value: "" }), ...options);
  form.elements.into.value = chosen;
  if (form.elements.into.selectedIndex < 0) form.elements.into.value = "";
  showAgainst();
}

/** Connect the form; `getNow()` gives {find, piece, pieces} as they stand. */
export function startAct(pieceId, getNow) {
  now = getNow;
  drawInto(now().piece, now().pieces);
  const draft = keepDraft(form, `${pieceId}:act`);
  form.addEventListener("input", show);
  form.addEventListener("change", show);
  form.addEventListener("submit", (event) => writeDown(draft, event));
  show();
}
