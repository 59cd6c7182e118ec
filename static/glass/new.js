// The analysis form: every figure is judged as it is typed, the estimate follows, and Keep stores it on this device first.
import { NotKept, entriesOf, newId, record } from "../web/outbox.js";
import { answerNodes, flameWords, noFlame } from "./answer.js";
import { readTyped } from "./cells.js";
import { BadComposition } from "./composition.js";
import { estimator, isWeathered, sdOfTyped, wtOfTyped } from "./data.js";
import { LONGEST, readPasted, tooLong } from "./paste.js";

const DRAFT = "isokom-analysis-draft";
const FIELDS = ["name", "family", "period", "region", "source", "note"];
const $ = (selector) => document.querySelector(selector);
const tool = await estimator();
let shown = "";

function unit() {
  return $("input[name=unit]:checked").value;
}

function inputs() {
  return [...document.querySelectorAll("#amounts input")];
}

function typed() {
  return inputs().filter((i) => i.value.trim()).map((i) => ({ name: i.dataset.name, text: i.value.trim(), unit: i.dataset.unit ?? unit() }));
}

// Figures as they are kept: a ± becomes the sd, and what was typed stays beside what was understood. Throws BadComposition.
function understood(figures) {
  return figures.map((figure) => {
    const { text, sd } = readTyped(figure.text, figure.name, figure.unit);
    return { ...figure, text, ...(text === figure.text ? {} : { raw: figure.text }), ...(sd === null ? {} : { sd }) };
  });
}

function addRow(choice, text = "") {
  const [name, given] = choice.startsWith("ppm:") ? [choice.slice(4), "ppm"] : [choice, undefined];
  const id = `a-${given ?? "share"}-${name}`;
  const existing = inputs().find((i) => i.dataset.name === name && i.dataset.unit === given);
  if (existing) return Object.assign(existing, text ? { value: text } : {});
  const row = $("#amounts .amount").cloneNode(true);
  const input = row.querySelector("input");
  Object.assign(row.querySelector("label"), { htmlFor: id, textContent: printedFormula(name) });
  Object.assign(input, { id, value: text });
  input.dataset.name = name;
  if (given) input.dataset.unit = given;
  row.querySelector("[data-unit]").textContent = given ?? `${unit()}%`;
  $("#amounts").append(row);
  return input;
}

function printedFormula(name) {
  return name.replace(/\d/g, (digit) => "₀₁₂₃₄₅₆₇₈₉"[digit]);
}

function fail(place, message) {
  place.textContent = message;
  place.hidden = !message;
}

function judge() {
  for (const input of inputs()) input.removeAttribute("aria-invalid");
  fail($("#amount-error"), "");
  try {
    const figures = understood(typed());
    return { figures, wt: wtOfTyped(tool, figures) };
  } catch (error) {
    if (!(error instanceof BadComposition)) throw error;
    inputs().find((i) => i.dataset.name === error.field)?.setAttribute("aria-invalid", "true");
    fail($("#amount-error"), error.message);
    return { figures: typed(), wt: null };
  }
}

function totalWords(figures, wt) {
  if (!figures.length) return "";
  const limits = figures.filter((a) => a.unit !== "ppm").reduce((sum, a) => sum + (tool.composition.amount(a.name, a.text, a.unit).limit ?? 0), 0);
  const below = limits > 0 ? `; up to ${limits.toFixed(2)} more lies below detection and counts as nothing` : "";
  return `Sum ${tool.composition.total(wt).toFixed(2)} ${unit()}%${below}`;
}

function refresh() {
  localStorage.setItem(DRAFT, JSON.stringify(formState()));
  const { figures, wt } = judge();
  for (const mark of document.querySelectorAll("#amounts [data-unit]:not(input)")) {
    if (mark.textContent !== "ppm") mark.textContent = `${unit()}%`;
  }
  $("#total").textContent = wt ? totalWords(figures, wt) : "";
  if (!wt || figures.length < 2) return showNothing(wt);
  const { surface, method } = formState();
  const key = JSON.stringify([figures, surface, method]);
  if (key === shown) return;
  shown = key;
  $("#answer").replaceChildren(...answerNodes(tool, reportOf(figures, wt), $("#g-name").value, method));
}

function reportOf(figures, wt) {
  const { surface, method } = formState();
  return tool.estimate(wt, isWeathered({ surface, method }), sdOfTyped(tool, wt, { method, amounts: figures }));
}

// An estimate never stays beside figures that it does not belong to.
function showNothing(wt) {
  shown = "";
  const words = wt ? "The estimate appears here as you type. It is made on this device and needs no network." : "No estimate: one of the figures cannot be read. See the message beside them.";
  $("#answer").replaceChildren(Object.assign(document.createElement("p"), { className: "empty", textContent: words }));
}

function readPaste() {
  fail($("#paste-error"), "");
  try {
    const { found, unit: share, remarks } = readPasted($("#paste").value, tool.composition);
    for (const input of inputs()) input.value = ""; // the pasted analysis replaces what stood here
    if (share) $(`input[name=unit][value=${share}]`).checked = true;
    for (const { name, unit: given, text } of found) addRow(given === "ppm" ? `ppm:${name}` : name, text);
    $("#paste-said").textContent = [`${found.length} figures read; they replace what stood here.`, ...remarks].join(" ");
    refresh();
  } catch (error) {
    fail($("#paste-error"), error.message);
  }
}

function stopLongText(event) {
  const text = (event.clipboardData ?? event.dataTransfer)?.getData("text") ?? "";
  if (text.length <= LONGEST) return;
  event.preventDefault();
  fail($("#paste-error"), tooLong(text));
}

function formState() {
  const texts = Object.fromEntries(FIELDS.map((f) => [f, $(`#g-${f}`).value]));
  return { ...texts, surface: $("#g-surface").value, method: $("#g-method").value, unit: unit(), amounts: typed() };
}

function fill(state) {
  for (const f of FIELDS) $(`#g-${f}`).value = state[f] ?? "";
  $("#g-surface").value = state.surface ?? "not stated";
  $("#g-method").value = state.method ?? "not stated";
  const share = state.unit ?? state.amounts?.find((a) => a.unit !== "ppm")?.unit ?? "wt";
  $(`input[name=unit][value=${share}]`).checked = true;
  for (const a of state.amounts ?? []) addRow(a.unit === "ppm" ? `ppm:${a.name}` : a.name, Number.isFinite(a.sd) ? `${a.text} ± ${a.sd}` : a.text);
  refresh();
}

async function keep(event) {
  event.preventDefault();
  fail($("#keep-error"), "");
  const { figures, wt } = judge();
  const { unit: _unit, amounts: _amounts, ...texts } = formState();
  if (!wt || !figures.length) return fail($("#keep-error"), "The figures cannot be read yet. See the message above them.");
  if (!texts.name.trim()) {
    $("#g-name").focus();
    return fail($("#keep-error"), "Give the glass a name, so that you find it again.");
  }
  const subject = newId();
  try {
    await record("glass.added", subject, { ...texts, replaces: "", amounts: figures });
  } catch (error) {
    if (!(error instanceof NotKept)) throw error;
    return fail($("#keep-error"), `${error.message} What you typed is still on this page.`);
  }
  localStorage.removeItem(DRAFT);
  showKept(subject, texts.name, reportOf(figures, wt));
}

function showKept(subject, name, report) {
  const cold = noFlame(tool, report);
  const way = cold
    ? Object.assign(document.createElement("p"), { textContent: cold })
    : Object.assign(document.createElement("a"), { className: "button", href: `/bench/new?glass=${subject}`, textContent: flameWords(report) });
  const again = Object.assign(document.createElement("a"), { className: "button quiet", href: "/glass", textContent: "All glasses" });
  const words = Object.assign(document.createElement("p"), { textContent: `${name} is kept on this device and goes to the desk by itself.` });
  const row = Object.assign(document.createElement("p"), { className: "row" });
  if (!cold) row.append(way);
  row.append(again);
  $("#kept").replaceChildren(words, ...(cold ? [way] : []), row);
  $("#kept").hidden = false;
  $("#keep").disabled = true;
  $("#kept").scrollIntoView({ block: "center" });
}

$("#more").addEventListener("change", () => {
  if ($("#more").value) addRow($("#more").value).focus();
  $("#more").value = "";
});
$("#paste-read").addEventListener("click", readPaste);
for (const kind of ["paste", "drop"]) $("#paste").addEventListener(kind, stopLongText);
$("#analysis").addEventListener("input", (event) => event.target.id !== "paste" && refresh());
$("#analysis").addEventListener("submit", keep);

const asked = location.hash.slice(1);
const earlier = asked ? (await entriesOf(asked))[0]?.body : JSON.parse(localStorage.getItem(DRAFT) ?? "null");
if (earlier) fill(earlier);
document.documentElement.dataset.ready = "analysis";
