// The queue of a session: the dish that comes, and what became of the others. Nothing here tells what lies in a dish while the session is covered.
import { newId, onChange, record } from "../web/outbox.js";
import { saveDraft } from "./draft.js";
import { allSessions, plannedName, setupOfRun } from "./session.js";
import { seconds } from "./trials.js";

const STATE_WORDS = { waiting: "to come", running: "running", kept: "kept", stopped: "stopped", skipped: "left out", done: "done" };
const TEST_PAGES = { fuse: "/bench/fuse", strip: "/bench/strip", pull: "/bench/pull", thread: "/bench/thread" };
const NUMBERS = new Set(["distance_cm", "room_c"]);
const sessionId = new URLSearchParams(location.search).get("s") ?? "";
const at = (id) => document.getElementById(id);
const oneLine = (text) => text.replace(/[\u0000-\u001f\u007f-\u009f]+/g, " ").trim();
const state = { session: null, mass_g: null, run: null };

function make(tag, attributes, ...children) {
  const element = Object.assign(document.createElement(tag), attributes);
  element.append(...children);
  return element;
}

const clock = (ms) => new Date(ms).toTimeString().slice(0, 5);

function leadWords({ runs, next, isOpen, count, plan }) {
  if (!isOpen) return `${plan.title || "The session"} is closed: ${runs.filter((run) => run.state === "kept").length} of ${runs.length} runs were kept.`;
  if (next === null) return `All ${runs.length} dishes are through.`;
  return `Run ${next + 1} of ${runs.length}. ${count ? `${count} done.` : "Nothing is heated yet."}`;
}

function dishRow(run) {
  const { session } = state;
  const name = session.isCovered ? "" : ` ${plannedName(session.plan.glasses[run.glass])}`;
  const word = run.index === session.next ? "next" : `${STATE_WORDS[run.state]}${run.why ? `: ${run.why}` : ""}`;
  const texts = [make("span", { className: "code", textContent: run.code }), make("span", { className: "small", textContent: `${name} ${word}`.trim() })];
  const row = make("li", {}, ...texts);
  if (run.trial && ["kept", "stopped", "running"].includes(run.state)) row.replaceChildren(make("a", { href: `/bench/run?t=${run.trial.id}` }, ...texts));
  row.dataset.state = run.index === session.next ? "next" : run.state;
  return row;
}

function showNext({ plan, runs, next }) {
  at("next").hidden = next === null;
  if (next === null) return;
  if (state.run !== next) {
    state.run = next;
    state.mass_g = plan.mass_g;
    for (const button of document.querySelectorAll("[data-check]")) button.setAttribute("aria-pressed", "false");
  }
  const isFlame = plan.test === "flame";
  at("code").textContent = runs[next].code;
  at("mass").textContent = `${state.mass_g.toFixed(1)} g`;
  at("kiln-word").textContent = `Kiln at ${plan.preheat_c} °C`;
  at("go").textContent = runs[next].state === "running" ? "Go on with it" : "To the flame";
  at("go").hidden = !isFlame;
  at("go-test").hidden = at("done").hidden = isFlame;
  at("go-test").href = TEST_PAGES[plan.test] ?? "/bench";
}

function timeOf(run) {
  return run.state === "kept" ? seconds(run.trial.spans.round?.seconds) : STATE_WORDS[run.state];
}

// Whether the reference drifted from the first run to the last: the torch, the kiln or the eye changed.
function driftWords({ runs, plan }) {
  const times = runs.filter((run) => run.is_reference && run.state === "kept").map((run) => run.trial.spans.round?.seconds).filter(Boolean);
  if (plan.reference === null) return "There was no reference in this session, so a drift of the torch would not show.";
  if (times.length < 2) return "Too few runs of the reference were kept to tell a drift.";
  const percent = Math.round(100 * (times.at(-1) / times[0] - 1));
  return `The reference was round after ${times.map((t) => seconds(t)).join(", then ")} s: ${percent === 0 ? "no drift" : `${Math.abs(percent)} % ${percent > 0 ? "slower" : "faster"} at the end`}.`;
}

function showUncovered(session) {
  at("uncovered").hidden = session.isCovered || session.plan.test !== "flame";
  if (session.isCovered) return;
  at("drift").textContent = driftWords(session);
  const rows = session.plan.glasses.map((glass, i) => {
    const times = session.runs.filter((run) => run.glass === i).map((run) => `${run.code} ${timeOf(run)}`);
    return make("tr", {}, make("th", { scope: "row", textContent: plannedName(glass) }), make("td", { textContent: times.join(" · ") }));
  });
  at("by-glass").replaceChildren(...rows);
}

function bookLines({ made_ms, plan, shown, id }) {
  const lines = [`Planned at ${clock(made_ms)}: seed ${plan.seed}, ${plan.is_blind ? "blind" : "not blind"}. Session ${id.slice(-6)}.`];
  for (const { at_ms, what, why } of shown) lines.push(`${what === "list" ? "The list for laying out was opened" : "Uncovered"} at ${clock(at_ms)}${why ? `: ${why}` : ""}.`);
  return lines;
}

function standingWords({ conditions: c }) {
  const told = [c.torch, c.nozzle, c.fuel, c.cylinder, c.distance_cm === null ? "" : `${c.distance_cm} cm from the cone`, c.holder, c.room_c === null ? "" : `room ${c.room_c} °C`, c.light, c.operator];
  return told.filter(Boolean).join(" · ") || "Nothing was noted of torch and room.";
}

function render() {
  const { session } = state;
  at("part-nothing").hidden = Boolean(session);
  at("part-session").hidden = !session;
  if (!session) return;
  at("lead").textContent = leadWords(session);
  showNext(session);
  at("close").hidden = !session.isOpen || session.next !== null;
  at("open-acts").hidden = !session.isOpen;
  at("uncover-part").hidden = !session.isCovered;
  at("laying").hidden = !session.isCovered;
  at("dishes").classList.toggle("named", !session.isCovered);
  at("dishes").replaceChildren(...session.runs.map(dishRow));
  at("standing").textContent = standingWords(session);
  at("book").replaceChildren(...bookLines(session).map((text) => make("li", { textContent: text })));
  showUncovered(session);
}

async function load() {
  state.session = (await allSessions()).find((one) => one.id === sessionId) ?? null;
  render();
}

function go() {
  const { session } = state;
  const run = session.runs[session.next];
  if (run.state === "running") return location.assign(`/bench/run?t=${run.trial.id}`);
  const trialId = newId();
  const checked = [...document.querySelectorAll("[data-check][aria-pressed=true]")].map((button) => button.dataset.check);
  saveDraft(trialId, setupOfRun(session, run.index, state.mass_g, checked));
  return location.assign(`/bench/run?t=${trialId}`);
}

async function showList() {
  await record("plan.unblinded", sessionId, { what: "list", why: "" });
  const { session } = state;
  at("list").replaceChildren(...session.runs.map((run) => make("li", {}, make("span", { className: "code", textContent: run.code }), plannedName(session.plan.glasses[run.glass]))));
  at("list").hidden = false;
}

async function changed() {
  const [what, text] = [at("changed-what").value, oneLine(at("changed").value)];
  const value = NUMBERS.has(what) ? Number(text.replace(",", ".").replace("−", "-")) : text;
  const [least, most] = what === "room_c" ? [-40, 60] : [0, 100];
  const isWrong = NUMBERS.has(what) && !(text && value >= least && value <= most);
  at("changed-error").textContent = isWrong ? `Give a number from ${least} to ${most}.` : "";
  at("changed-error").hidden = !isWrong;
  if (isWrong || !text) return;
  await record("plan.conditions", sessionId, { conditions: { ...state.session.conditions, [what]: value }, why: "" });
  at("changed").value = "";
}

function stepMass(step) {
  state.mass_g = Math.min(1000, Math.max(0.1, Math.round((state.mass_g + step) * 10) / 10));
  render();
}

function connect() {
  at("go").addEventListener("click", go);
  at("skip").addEventListener("click", () => at("skip-why").showModal());
  at("keep-it").addEventListener("click", () => at("skip-why").close());
  for (const button of document.querySelectorAll("[data-why]")) {
    button.addEventListener("click", async () => {
      at("skip-why").close();
      await record("plan.skipped", sessionId, { run: state.session.next, why: button.dataset.why });
    });
  }
  for (const button of document.querySelectorAll("[data-check]")) button.addEventListener("click", () => button.setAttribute("aria-pressed", String(button.getAttribute("aria-pressed") !== "true")));
  for (const button of document.querySelectorAll("[data-mass]")) button.addEventListener("click", () => stepMass(Number(button.dataset.mass)));
  at("done").addEventListener("click", () => record("plan.done", sessionId, { run: state.session.next, why: "" }));
  at("close").addEventListener("click", () => record("plan.closed", sessionId, { why: "" }));
  at("show-list").addEventListener("click", showList);
  at("save-changed").addEventListener("click", changed);
  at("uncover").addEventListener("click", () => record("plan.unblinded", sessionId, { what: "all", why: oneLine(at("uncover-why").value) }));
  onChange((what) => what === "recorded" && load());
}

await load();
connect();
document.documentElement.dataset.ready = "session";
