// Choose two glasses and a joint. The choice stands in the address; the sum is the desk's, fetched as a fragment.
import { allGlasses } from "../glass/data.js";
import { Pick } from "../glass/pick.js";

const NEEDS_DESK = "This sum is made at the desk, and the desk does not answer. Your choice stays here; try again when it does.";
let wanted = ""; // the address of what is chosen
let answered = ""; // the address of what the shown answer is for
const $ = (selector) => document.querySelector(selector);
const form = $("#pair-form");
const answer = $("#answer");
const asked = new URLSearchParams(location.search);
const glasses = await allGlasses().catch(() => []);
const byKey = new Map(glasses.map((glass) => [glass.key, glass]));

const picks = [...document.querySelectorAll(".pick")].map((place) => new Pick(place, glasses, sum));

function joint() {
  return form.querySelector("input[name=form]:checked");
}

/** Labels and the usual sizes of the chosen joint. */
function showJoint(keepsSize = false) {
  const { a, b, path, pathLabel } = joint().dataset;
  [a, b].forEach((text, i) => (picks[i].label.textContent = text));
  $("label[for=path]").textContent = pathLabel;
  if (!keepsSize) $("#path").value = path;
  $("#share-field").hidden = joint().value !== "core";
}

function sum() {
  const [a, b] = picks.map((pick) => pick.field.value);
  const query = new URLSearchParams(new FormData(form));
  for (const [name, value] of [...query]) if (!value) query.delete(name);
  if (joint().value !== "core") query.delete("share");
  history.replaceState(null, "", `${location.pathname}?${query}`);
  $("#sizes").hidden = !a || !b;
  if (!a || !b || !form.reportValidity()) return;
  wanted = `${query}`;
  answer.setAttribute("aria-busy", "true");
  form.dispatchEvent(new CustomEvent("sum"));
}

/** What an address asks for: 'Venetian glass no. 2 and a fusing glass, trail on bead or rod'. */
function words(query) {
  const chosen = new URLSearchParams(query);
  const name = (key) => byKey.get(key)?.name ?? key;
  const radio = form.querySelector(`input[name=form][value="${chosen.get("form")}"]`);
  const mm = chosen.get("path") === radio.dataset.path ? "" : `, ${chosen.get("path")} mm`;
  const { a, b } = radio.dataset;
  return `${radio.parentElement.textContent.trim()}; ${a.toLowerCase()}: ${name(chosen.get("a"))}; ${b.toLowerCase()}: ${name(chosen.get("b"))}${mm}`;
}

/** Why there is no new answer. The last one stays, under the name of what it is for. */
function say(sentence) {
  answer.removeAttribute("aria-busy");
  $("#needs-desk").textContent = sentence;
  $("#needs-desk").hidden = false;
  if (!answered) return answer.replaceChildren();
  const isSame = answered === wanted;
  $("#answer-for").textContent = `${isSame ? "The answer from before" : "The last answer, not for what is chosen above"}: ${words(answered)}.`;
  $("#answer-for").hidden = false;
  return answer.classList.toggle("of-before", !isSame);
}

function showAnswer() {
  answered = wanted;
  answer.removeAttribute("aria-busy");
  answer.classList.remove("of-before");
  $("#needs-desk").hidden = $("#answer-for").hidden = true;
}

/** A refusal has words of its own from the desk; anything else means that the desk is away. */
function onRefused(event) {
  event.stopPropagation();
  const { status } = event.detail.ctx.response;
  if (status >= 500) return say(NEEDS_DESK);
  say(status === 404 ? "The desk does not know one of these glasses. If you entered it on this device, it has not been sent yet." : "The desk cannot take these sizes.");
}

form.addEventListener("htmx:response:error", onRefused);
form.addEventListener("htmx:error", (event) => {
  event.stopPropagation();
  say(NEEDS_DESK);
});
form.addEventListener("htmx:after:swap", ({ detail }) => {
  if (detail?.ctx?.response?.status >= 400) return; // it is raised for refusals as well
  showAnswer();
});
form.addEventListener("submit", (event) => {
  event.preventDefault();
  sum();
});
form.addEventListener("change", (event) => {
  if (event.target.name === "form") showJoint();
  sum();
});
$("#sizes").addEventListener("change", sum);
$("#swap").addEventListener("click", () => {
  const [a, b] = picks.map((pick) => pick.field.value);
  picks[0].set(b);
  picks[1].set(a);
  sum();
});

for (const radio of form.elements.form) radio.checked = radio.value === asked.get("form") || (radio.checked && !asked.has("form"));
if (!joint()) form.elements.form[2].checked = true;
showJoint();
for (const name of ["path", "share"]) if (asked.get(name)) form.elements[name].value = asked.get(name);
for (const pick of picks) if (asked.get(pick.side)) pick.set(asked.get(pick.side));
if (document.readyState !== "complete") await new Promise((done) => addEventListener("load", done, { once: true }));
document.documentElement.dataset.ready = "pair";
sum();
