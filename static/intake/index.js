// Bring in a table: read it at the desk, put columns right, tick rows, and keep each ticked row as an entry on this device.
import { NotKept, newId, record } from "../web/outbox.js";
import { afterPress } from "../web/press.js";
import { draft, forgetDraft, keepDraft, remember, remembered } from "./memory.js";
import { LARGEST, NotRead, base64Of, previewOf, tooLarge } from "./table.js";

const ABOUT = ["method", "surface", "source"];
const $ = (selector) => document.querySelector(selector);
const all = (selector) => [...document.querySelectorAll(selector)];
const ticks = new Map(); // by row: what the person ticked or unticked
const names = new Map(); // by row: the name that the person gave to a row without one
let file = null; // {name, base64}
let said = fresh();
const keptRows = new Set();
let asking = 0;
let isStale = true; // what is shown is not what was asked last

function fresh() {
  return { corrections: {}, decimal: "auto", repeats: "mean", blank: "own", turn: "auto", sheet: "" };
}

function fail(place, message) {
  place.textContent = message;
  place.hidden = !message;
}

function about() {
  return Object.fromEntries(ABOUT.map((name) => [name, $(`#${name}`).value]));
}

function saveDraft() {
  const isKept = keepDraft({ text: $("#paste").value, ...about() });
  if (!isKept) fail($("#read-error"), "This device's store is full: the pasted text is on this page only.");
}

async function read({ isFirst = false } = {}) {
  const turn = ++asking;
  fail($("#read-error"), "");
  isStale = true;
  $("#read").disabled = $("#keep").disabled = true;
  try {
    const source = file ? { file: file.base64 } : { text: $("#paste").value };
    const html = await previewOf({ ...source, ...said, ...about() });
    await new Promise(afterPress); // else a press under way would be lost
    if (turn === asking) show(html, isFirst);
  } catch (error) {
    if (!(error instanceof NotRead)) throw error;
    if (isFirst) clear();
    fail($("#read-error"), error.message);
    $("#read-error").scrollIntoView({ block: "center" });
  } finally {
    $("#read").disabled = false;
  }
}

function clear() {
  $("#understood").replaceChildren();
  $("#remembered").hidden = true;
  count();
}

function show(html, isFirst) {
  const open = all("#understood > div > details[open]").map((part) => part.id);
  const focus = document.activeElement?.closest("#understood") ? document.activeElement.id : "";
  $("#understood").innerHTML = html;
  $("#kept").hidden = true;
  for (const row of all("[data-key]")) {
    const box = row.querySelector("[type=checkbox]");
    const name = row.querySelector("[data-name]");
    if (name) name.value = names.get(row.dataset.key) ?? "";
    if (nameOf(row) && "elseFine" in row.dataset) box.checked = true;
    if (box && keptRows.has(row.dataset.key)) markKept(row);
    else if (box && ticks.has(row.dataset.key)) box.checked = ticks.get(row.dataset.key);
  }
  if (!isFirst) for (const id of open) document.getElementById(id).open = true;
  if (focus && !document.getElementById(focus)?.checkVisibility()) $("#columns").open = true; // a column put right has moved in there
  if (focus) document.getElementById(focus)?.focus();
  isStale = false;
  count();
  if (!isFirst) return;
  $("#remembered").hidden = !remembered(fingerprint());
  if (remembered(fingerprint())) useRemembered();
  $("#understood-head").focus({ preventScroll: true });
  $("#understood-head").scrollIntoView({ block: "start" });
}

function fingerprint() {
  return $("[data-fingerprint]").dataset.fingerprint;
}

function ticked() {
  return all("[data-key]").filter((row) => row.querySelector("input:checked:not(:disabled)"));
}

function count() {
  const n = ticked().length;
  $("#keep-row").hidden = !$("[data-fingerprint]");
  $("#read").classList.toggle("quiet", !$("#keep-row").hidden); // one clear action: to read, then to save
  $("#keep").disabled = n === 0 || isStale;
  if ($("#ticked-count")) $("#ticked-count").textContent = n;
  $("#keep").textContent = ["Tick what to save", "Save 1 glass"][n] ?? `Save ${n} glasses`;
}

function nameOf(row) {
  return row.querySelector("[data-name]")?.value.replace(/[\u0000-\u001f\u007f]+/g, " ").trim() ?? "";
}

// A row without a name cannot be ticked before it has one; where nothing else is missing, the name ticks it.
function lacksName(row) {
  return "asksName" in row.dataset && !nameOf(row);
}

function named({ target }) {
  if (!("name" in target.dataset)) return;
  const row = target.closest("[data-key]");
  const box = row.querySelector("[type=checkbox]");
  const had = Boolean(names.get(row.dataset.key)?.trim());
  names.set(row.dataset.key, target.value);
  if (box.disabled || had === !lacksName(row)) return;
  box.checked = !lacksName(row) && "elseFine" in row.dataset;
  ticks.set(row.dataset.key, box.checked);
  count();
}

function correct(column) {
  const [role, of = ""] = column.querySelector("[data-is]").value.split(":");
  const unit = column.querySelector("[data-unit]");
  const isSaid = of && !unit.hidden && !(role === "element" && unit.value === "mol");
  said.corrections[column.dataset.column] = { role, of, unit: isSaid ? unit.value : "" };
  again();
}

function again() {
  const { sheet: _sheet, ...kept } = said;
  remember(fingerprint(), kept);
  $("#remembered").hidden = true;
  read();
}

function start(event) {
  event?.preventDefault();
  said = fresh();
  names.clear();
  forgetTable();
  read({ isFirst: true });
}

function forgetTable() {
  ticks.clear();
  keptRows.clear();
}

async function take(chosen) {
  try {
    file = { name: chosen.name, base64: await base64Of(chosen) };
  } catch (error) {
    if (!(error instanceof NotRead)) throw error;
    return fail($("#read-error"), error.message);
  }
  $("#file-said").textContent = `${file.name} is read in place of the box above.`;
  return start();
}

function dropFile() {
  file = null;
  $("#file").value = "";
  $("#file-said").textContent = "";
}

// A second press cannot keep it twice.
function markKept(row) {
  keptRows.add(row.dataset.key);
  row.classList.add("is-kept");
  for (const field of row.querySelectorAll("input")) field.disabled = true;
}

async function keep() {
  fail($("#keep-error"), "");
  $("#keep").disabled = true;
  let kept = 0;
  try {
    for (const row of ticked()) {
      const body = JSON.parse(row.querySelector("script").textContent);
      await record("glass.added", newId(), { ...body, name: nameOf(row) || body.name });
      kept += 1;
      markKept(row);
    }
  } catch (error) {
    if (!(error instanceof NotKept)) throw error;
    fail($("#keep-error"), `${error.message} ${kept} of the ticked glasses ${kept === 1 ? "is" : "are"} kept; the others are still on this page.`);
  }
  count();
  if (kept) showKept(kept);
}

function showKept(n) {
  forgetDraft();
  const words = Object.assign(document.createElement("p"), { textContent: `${n} ${n === 1 ? "glass is kept on this device and goes to the desk by itself" : "glasses are kept on this device and go to the desk by themselves"}.` });
  const link = Object.assign(document.createElement("a"), { className: "button quiet", href: "/glass", textContent: "All glasses" });
  const row = Object.assign(document.createElement("p"), { className: "row" });
  row.append(link);
  $("#kept").replaceChildren(words, row);
  $("#kept").hidden = false;
  $("#kept").scrollIntoView({ block: "center" });
}

function changed({ target }) {
  const column = target.closest("[data-column]");
  if (column) return correct(column);
  if (target.dataset.option) {
    if (target.dataset.option === "sheet") said = { ...fresh(), sheet: target.value };
    else said[target.dataset.option] = target.value;
    if (["sheet", "turn"].includes(target.dataset.option)) names.clear(); // other lines
    forgetTable();
    return target.dataset.option === "sheet" ? read({ isFirst: true }) : again();
  }
  if (target.type !== "checkbox") return undefined;
  const row = target.closest("[data-key]");
  if (target.checked && lacksName(row)) {
    target.checked = false;
    row.querySelector("[data-name]").focus();
  }
  ticks.set(row.dataset.key, target.checked);
  return count();
}

function tickMany({ target }) {
  if (!target.dataset.tick) return;
  for (const box of all("[data-key] [type=checkbox]:not(:disabled)")) {
    box.checked = target.dataset.tick === "all" && !lacksName(box.closest("[data-key]"));
    ticks.set(box.closest("[data-key]").dataset.key, box.checked);
  }
  count();
}

function arrives(event) {
  const data = event.clipboardData ?? event.dataTransfer;
  if (event.type === "drop" && data?.files.length) {
    event.preventDefault();
    return take(data.files[0]);
  }
  const text = data?.getData("text") ?? "";
  if (text.length <= LARGEST) return undefined;
  event.preventDefault();
  return fail($("#read-error"), tooLarge(text.length, "characters"));
}

function useRemembered() {
  said = { ...fresh(), ...remembered(fingerprint()), sheet: said.sheet };
  read();
}

function readAfresh() {
  said = { ...fresh(), sheet: said.sheet };
  $("#remembered").hidden = true;
  read();
}

$("#table").addEventListener("submit", start);
$("#file").addEventListener("change", (event) => event.target.files.length && take(event.target.files[0]));
$("#paste").addEventListener("input", () => {
  dropFile();
  saveDraft();
});
for (const kind of ["paste", "drop"]) $("#paste").addEventListener(kind, arrives);
for (const kind of ["dragover", "dragleave", "drop"]) $("#table").addEventListener(kind, () => $("#table").classList.toggle("dropping", kind === "dragover"));
for (const name of ABOUT) {
  $(`#${name}`).addEventListener("change", () => {
    saveDraft();
    if ($("[data-fingerprint]")) read();
  });
}
$("#understood").addEventListener("change", changed);
$("#understood").addEventListener("input", named);
$("#understood").addEventListener("click", tickMany);
$("#read-afresh").addEventListener("click", readAfresh);
$("#keep").addEventListener("click", keep);

const earlier = draft();
if (earlier) {
  $("#paste").value = earlier.text ?? "";
  for (const name of ABOUT) if (earlier[name]) $(`#${name}`).value = earlier[name];
}
document.documentElement.dataset.ready = "intake";
