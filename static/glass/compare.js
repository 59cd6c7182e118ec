// Compare up to six glasses. The choice stands in the address, so that it can be kept and shared.
import { allGlasses } from "./data.js";
import { queryWords } from "../web/search.js";
import { heatBar, scaleFor } from "./heatbar.js";
import { LETTERS } from "./viscosity.js";

const MOST = 6;
const OFFERS = 30;
const $ = (selector) => document.querySelector(selector);
const glasses = await allGlasses();
const byKey = new Map(glasses.map((glass) => [glass.key, glass]));
const asked = [...new Set(new URLSearchParams(location.search).getAll("g"))];
let chosen = asked.filter((key) => byKey.has(key)).slice(0, MOST);

function el(tag, properties = {}, ...children) {
  const node = Object.assign(document.createElement(tag), properties);
  node.append(...children);
  return node;
}

function choose(keys) {
  chosen = keys;
  const query = new URLSearchParams(chosen.map((key) => ["g", key]));
  history.replaceState(null, "", chosen.length ? `?${query}` : location.pathname);
  show();
}

function show() {
  const picked = chosen.map((key) => byKey.get(key));
  const drawable = picked.filter((glass) => glass.curve);
  $("#chosen").replaceChildren(...picked.map((glass) => chip(glass)));
  $("#add").disabled = chosen.length >= MOST;
  $("#add").placeholder = chosen.length >= MOST ? "Six is the most; take one out first" : "Add a glass: name, family, period";
  $("#compare-lead").textContent = leadOf(picked, drawable);
  $("#picture").hidden = picked.length === 0;
  if (drawable.length) drawBars(drawable);
  $("#curves").closest("figure").hidden = drawable.length === 0;
  if (drawable.length) $("#curves").show(drawable.map((glass) => glass.curve));
  for (const old of document.querySelectorAll(".numbers tbody")) old.remove();
  $(".numbers").append(...picked.map((glass) => numbersRows(glass, drawable.indexOf(glass))));
  $("#sources").replaceChildren(...picked.map((glass) => el("li", { textContent: `${glass.name}: ${glass.source || "no source given"}` })));
  $("#expansion-note").textContent = expansionNote(picked);
}

function chip(glass) {
  const button = el("button", { type: "button", className: "chip out", textContent: `${glass.name} ×` });
  button.setAttribute("aria-label", `Take out ${glass.name}`);
  button.addEventListener("click", () => choose(chosen.filter((key) => key !== glass.key)));
  return button;
}

function leadOf(picked, drawable) {
  if (!picked.length) return "Choose up to six glasses.";
  if (drawable.length < 2) return picked.length < 2 ? "Add a second glass to compare with." : "Fewer than two of these have working temperatures to compare.";
  const sorted = [...drawable].sort((a, b) => a.curve.points.softening - b.curve.points.softening);
  const [soft, hard] = [sorted[0], sorted.at(-1)];
  const gap = hard.curve.points.softening - soft.curve.points.softening;
  const doubt = Math.hypot(soft.curve.u.softening, hard.curve.u.softening);
  if (gap < doubt) return "They soften alike, as far as these estimates can tell.";
  return `${soft.name} softens first, about ${Math.round(gap)} K (± ${Math.round(doubt)}) before ${hard.name.replace(/\.$/, "")}.`;
}

function drawBars(drawable) {
  const scale = scaleFor(drawable.flatMap(({ curve }) => [curve.points.strain, curve.points.working + curve.u.working]));
  const head = document.createElement("heat-scale");
  head.setAttribute("scale", scale.join(" "));
  $("#picture heat-scale").replaceWith(head);
  $("#bars").replaceChildren(...drawable.map((glass, i) => el("li", {}, el("b", { textContent: LETTERS[i] }), ` ${glass.name}`, heatBar(glass.curve, scale))));
}

// The name takes a line of its own, so that a phone shows it whole above its figures.
function numbersRows(glass, place) {
  const { curve } = glass;
  const letter = el("b", { textContent: place >= 0 ? LETTERS[place] : "–" });
  const link = el("a", { href: `/glass/${glass.key}`, textContent: glass.name });
  const words = { ok: "", extrapolated: " (extrapolated)", refused: " (no estimate)" }[glass.status];
  const name = el("th", { colSpan: 5, scope: "rowgroup" }, letter, " ", link, words);
  const { softening, working, annealing } = curve?.points ?? {};
  const cells = [[softening, curve?.u.softening], [working, curve?.u.working], [curve && working - softening], [annealing, curve?.u.annealing], glass.alpha ?? []];
  return el("tbody", {}, el("tr", {}, name), el("tr", {}, ...cells.map(([value, u]) => figure(value, u))));
}

function figure(value, u) {
  if (value === undefined || value === null) return el("td", { className: "n", textContent: "–" });
  const doubt = u === undefined ? [] : [" ", el("span", { className: "give", textContent: `± ${Math.round(u)}` })];
  return el("td", { className: "n" }, String(Math.round(value)), ...doubt);
}

function expansionNote(picked) {
  const known = picked.filter((glass) => glass.alpha);
  if (known.length < 2) return "";
  const values = known.map((glass) => glass.alpha[0]);
  const gap = Math.max(...values) - Math.min(...values);
  const doubt = Math.hypot(...known.map((glass) => glass.alpha[1])) ;
  if (gap < 5) return `Expansions lie within ${Math.round(gap)} × 10⁻⁷/K: no predicted conflict, which is not the same as safe. Test a seal.`;
  return `Expansions differ by up to ${Math.round(gap)} × 10⁻⁷/K (± ${Math.round(doubt)}). In the trade more than about 5 is expected to fail sooner or later (common practice). Test a seal before you trust one.`;
}

function offer() {
  const words = queryWords($("#add").value);
  const found = words.length ? glasses.filter((g) => !chosen.includes(g.key) && words.every((word) => g.words.includes(word))).slice(0, OFFERS) : [];
  $("#offers").hidden = found.length === 0;
  $("#offers").replaceChildren(...found.map((glass) => {
    const button = el("button", { type: "button" }, glass.name, el("small", { textContent: `${glass.family} · ${glass.short ?? ""}` }));
    button.addEventListener("click", () => {
      $("#add").value = "";
      offer();
      choose([...chosen, glass.key]);
    });
    return el("li", {}, button);
  }));
}

/** What the address asked for and does not get. */
function leftOut() {
  const unknown = asked.filter((key) => !byKey.has(key)).length;
  const beyond = asked.length - unknown - chosen.length;
  const parts = [];
  if (beyond) parts.push(`Six is the most: ${beyond} more ${beyond === 1 ? "glass" : "glasses"} of this address ${beyond === 1 ? "was" : "were"} left out.`);
  if (unknown) parts.push(`${unknown} of the glasses of this address ${unknown === 1 ? "is" : "are"} not known here.`);
  $("#left-out").hidden = parts.length === 0;
  $("#left-out").textContent = parts.join(" ");
}

$("#add").addEventListener("input", offer);
leftOut();
show();
offer(); // what was typed while the glasses were loading
