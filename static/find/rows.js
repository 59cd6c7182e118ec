// The ledger of one piece as a table, and the way to take a row back.
import { onChange, record } from "../web/outbox.js";
import { kept } from "./facts.js";
import { allEntries } from "./finds.js";
import { findsFrom } from "./ledger.js";
import { at, complain, linkTo, make, oneLine } from "./parts.js";
import { grams, TEST_WORDS } from "./sentences.js";

const form = at("undo-form");
let asked = null;

function whenWords(at_ms) {
  const day = new Date(at_ms - new Date(at_ms).getTimezoneOffset() * 60_000).toISOString();
  return `${day.slice(0, 10)} ${day.slice(11, 16)}`;
}

/** "Used in a flame test": what a row tells. */
function actWords(row, names) {
  const other = names.get(row.other) ?? "another piece";
  const words = {
    weighed: row.u_g === null ? "Weighed" : `Weighed, ± ${grams(row.u_g)} g`,
    cut: `Cut off: ${other}`,
    came: `Cut off ${other}`,
    used: `Used in a ${TEST_WORDS[row.test]}`,
    lost: "Lost",
    returned: row.words ? `Returned to ${row.words}` : "Returned",
  };
  return words[row.act];
}

function remarks(row) {
  const said = [];
  if (row.act === "lost") said.push(row.words);
  if (row.unaccounted_g > 0) said.push(`${grams(row.unaccounted_g)} g is unaccounted for`);
  if (row.unaccounted_g < 0) said.push(`${grams(-row.unaccounted_g)} g more than reckoned`);
  if (row.over_g > 0) said.push(`${grams(row.over_g)} g more than was left`);
  if (row.struck) said.push(`taken back${row.why ? `: ${row.why}` : ""}`);
  return said.join(" · ");
}

function changeWords(row) {
  if (row.struck) return "–";
  if (row.act === "weighed") return `= ${grams(row.mass_g)}`;
  return row.act === "came" ? `+ ${grams(row.mass_g)}` : `− ${grams(row.mass_g)}`;
}

function takeBackButton(row, names) {
  const button = make("button", "plain take-back", "Take back");
  button.type = "button";
  button.setAttribute("aria-label", `Take back: ${actWords(row, names)}, ${grams(row.mass_g)} g`);
  const words = `${actWords(row, names)}, ${grams(row.mass_g)} g, of ${whenWords(row.at_ms)}. The row stays in the ledger, struck through.`;
  button.addEventListener("click", () => askTakeBack(row.entry, words));
  return button;
}

/** Open the form that takes an entry of this piece back; `words` say what it is and what becomes of it. */
export function askTakeBack(entry, words) {
  asked = entry;
  at("undo-what").textContent = words;
  form.elements.why.value = "";
  complain("undo-error", "");
  form.hidden = false;
  form.scrollIntoView({ block: "center" });
  form.elements.why.focus();
}

function tableRow(row, names) {
  const word = make("span", row.struck ? "struck" : "", actWords(row, names));
  const head = make("th", "", row.act === "came" || row.act === "cut" ? linkTo(`/finds/piece?p=${row.other}`, "row-link", word) : word);
  head.scope = "row";
  const said = remarks(row);
  if (said) head.append(make("span", row.over_g > 0 ? "small remark late" : "small remark", said));
  head.append(make("span", "small remark", whenWords(row.at_ms)));
  if (!row.struck && row.act !== "came") head.append(takeBackButton(row, names));
  const left = row.left_g === null ? "–" : grams(row.left_g);
  const line = make("tr", "", head, make("td", "n", changeWords(row)), make("td", "n", left));
  line.dataset.entry = row.entry;
  return line;
}

function sumWords(piece) {
  const said = [["cut off", piece.cut_g], ["used", piece.used_g], ["lost", piece.lost_g], ["returned", piece.returned_g], ["unaccounted for", piece.unaccounted_g]];
  const parts = said.filter(([, mass_g]) => mass_g !== 0).map(([word, mass_g]) => `${grams(mass_g)} g ${word}`);
  return parts.length ? `Of ${grams(piece.start_g)} g at the start: ${grams(piece.left_g ?? 0)} g left, ${parts.join(", ")}.` : "";
}

/** The table and the sums below it; `pieces` give the names of what was cut off. */
export function drawRows(piece, pieces) {
  const names = new Map(pieces.map((one) => [one.id, one.facts.label]));
  at("ledger").hidden = piece.rows.length === 0;
  at("no-rows").hidden = piece.rows.length > 0;
  at("rows").replaceChildren(...piece.rows.map((row) => tableRow(row, names)));
  at("sums").textContent = sumWords(piece);
}

/** Would more have been taken than there was, were this entry not there? Nothing may go below nothing by taking back. */
async function isNeeded(pieceId, entry) {
  const entries = await allEntries();
  const over = (some) => findsFrom(some).pieces.reduce((sum, piece) => sum + piece.over_g, 0);
  const undone = { id: "~", kind: "piece.undone", subject: pieceId, at_ms: Date.now(), body: { entry, why: "" } };
  return over([...entries, undone]) > over(entries) + 1e-9;
}

async function takeBack(pieceId, event) {
  event.preventDefault();
  if (await isNeeded(pieceId, asked)) {
    complain("undo-error", "Without this row, later rows would take more than there was. Take those back first.");
    return;
  }
  const body = { entry: asked, why: oneLine(form.elements.why.value) };
  if (await kept("undo-error", () => record("piece.undone", pieceId, body))) form.hidden = true;
}

/** Connect the form that takes a row back. */
export function startRows(pieceId) {
  form.addEventListener("submit", (event) => takeBack(pieceId, event));
  at("undo-leave").addEventListener("click", () => (form.hidden = true));
  onChange((what) => what === "recorded" && complain("undo-error", ""));
}
