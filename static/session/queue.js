// The queue of a session: the dish that comes, and what became of the others. Nothing here tells what lies in a dish while the session is covered.
import { grams } from "../find/sentences.js";
import { knownPieces, reservedIn, standing, standingTogether } from "../find/uses.js";
import { takeForEveryTest } from "../measure/pieces.js";
import { allSessions, askDesk, boardOf, plannedName, settingAside } from "../plan/session.js";
import { draftOf, saveDraft } from "../trial/draft.js";
import { everyTrial } from "../trial/trials.js";
import { writeMissingUses } from "../trial/uses.js";
import { NotKept, deviceId, newId, onChange, record } from "../web/outbox.js";
import { at, complain, make, numberFrom, oneLine } from "../web/parts.js";
import { bookLines, dishRow, driftWords, glassRows, leadWords, standingWords, unsettledWords } from "./dishes.js";
import { lookAddress, setupOfRun, testAddress, usesOf } from "./start.js";

const GO_WORDS = { flame: "To the flame", fuse: "Lay the board", strip: "To the strips", pull: "To the rod", thread: "To the threads" };
const JUST_OPENED_MS = 700;
const ASK_EVERY_MS = 20_000;
const RANGES = { distance_cm: [0, 100], room_c: [-40, 60] };
const sessionId = new URLSearchParams(location.search).get("s") ?? "";
const state = { session: null, sessions: [], run: null, leaving: null, isHere: true, isTaken: false, pieces: null, warned: null, isBusy: false };

function showNext({ plan, runs, next, isOpen }) {
  at("next").hidden = next === null || !state.isHere;
  at("elsewhere").hidden = state.isHere || !isOpen;
  if (next === null) return;
  if (state.run !== next) {
    state.run = next;
    state.warned = null;
    at("mass").value = grams(plan.mass_g);
    complain("mass-error", "");
    for (const button of document.querySelectorAll("[data-check]")) button.setAttribute("aria-pressed", "false");
  }
  const isRunning = runs[next].state === "running";
  at("code").textContent = runs[next].code;
  at("kiln-word").textContent = `Kiln at ${plan.preheat_c} °C`;
  at("go").textContent = isRunning ? "Go on with it" : GO_WORDS[plan.test];
  at("dish").hidden = at("skip").hidden = plan.test === "fuse"; // its dishes go onto one board together
  at("checks").hidden = plan.test !== "flame" || isRunning;
  at("mass-part").hidden = plan.test === "fuse" || isRunning;
}

function render() {
  const { session } = state;
  at("part-nothing").hidden = Boolean(session);
  at("part-session").hidden = !session;
  if (!session) return;
  at("lead").textContent = leadWords(session);
  at("unsettled").hidden = !session.unsettled.length;
  at("unsettled-words").textContent = unsettledWords(session);
  showNext(session);
  for (const aside of document.querySelectorAll("[data-for-test]")) aside.hidden = !session.isOpen || !aside.dataset.forTest.split(" ").includes(session.plan.test);
  at("close").hidden = !session.isOpen || session.next !== null || !state.isHere;
  at("uncover-part").hidden = !state.isHere; // it ends where it runs, and the ledger is written there
  at("uncover-now").hidden = !session.isCovered;
  at("open-acts").hidden = !session.isOpen;
  at("laying").hidden = !session.isCovered;
  at("dishes").classList.toggle("named", !session.isCovered || session.plan.test === "fuse");
  at("dishes").replaceChildren(...session.runs.map((run) => dishRow(session, run, acts(session))));
  at("standing").textContent = standingWords(session);
  at("book").replaceChildren(...bookLines(session).map((text) => make("li", { textContent: text })));
  const hasTimes = !session.isCovered && session.plan.test === "flame";
  at("uncovered").hidden = !hasTimes;
  at("drift").textContent = hasTimes ? driftWords(session) : "";
  at("by-glass").replaceChildren(...(hasTimes ? glassRows(session) : []));
}

function acts({ plan }) {
  const reopen = (run) => write("plan.reopened", { run: run.index, why: "", over: state.session.latest.of(run.index) });
  return plan.test === "fuse" ? { reopen, leaveOut: (run) => leave(run.index) } : { reopen };
}

async function load() {
  const [sessions, trials] = await Promise.all([allSessions(), everyTrial()]);
  state.sessions = sessions;
  state.session = state.sessions.find((one) => one.id === sessionId) ?? null;
  for (const run of state.session?.runs ?? []) run.trial = trials.find(({ id }) => id === run.test?.id) ?? null; // its times
  if (state.session) state.isHere = state.isTaken || state.session.device === (await deviceId());
  render();
}

/** Record, and say so where the store refuses. */
async function write(kind, body) {
  if (state.isBusy) return false;
  state.isBusy = true;
  try {
    await record(kind, sessionId, body);
    await load();
    return true;
  } catch (error) {
    if (!(error instanceof NotKept)) throw error;
    complain("store-error", error.message);
    return false;
  } finally {
    state.isBusy = false;
  }
}

// Set aside of a piece: by other open sessions, and by what this covered one has heated already.
function asideOf({ id, isCovered, runs }) {
  const others = reservedIn(settingAside(state.sessions.filter((one) => one.id !== id)));
  const tests = isCovered ? [...new Map(runs.filter((run) => run.test).map(({ test }) => [test.id, test])).values()] : [];
  const heated = (pieceId) => tests.flatMap(usesOf).filter((use) => use.piece_id === pieceId).reduce((sum, use) => sum + use.mass_g, 0);
  return { of: (pieceId) => others.of(pieceId) + heated(pieceId) };
}

// Pieces of the ledger that these runs use up, with all of it: [{one, mass_g, code}]; one is undefined where a piece is spent or not known here.
async function wantedOf({ plan }, runs, mass_g) {
  const known = await (state.pieces ??= knownPieces());
  return runs.filter((run) => plan.glasses[run.glass].piece_id).map((run) => ({ one: known.find(({ piece }) => piece.id === plan.glasses[run.glass].piece_id), mass_g, code: run.code }));
}

/** What stands against using the pieces of these runs, now: {blocks, warns}; in a covered session in words that tell neither name nor mass. */
async function objections(session, runs, mass_g) {
  const wanted = await wantedOf(session, runs, mass_g);
  const spent = wanted.filter(({ one }) => !one).map(({ code }) => `Nothing is left of what lies in dish ${code}, or it is not known here.`);
  if (spent.length) return { blocks: spent, warns: [] };
  if (!wanted.length) return { blocks: [], warns: [] };
  const aside = asideOf(session);
  const found = standingTogether(wanted, session.plan.test, aside);
  if (!session.isCovered) return found;
  const covered = (texts, sentence) => (texts.length ? [sentence] : []);
  const alone = wanted.filter(({ one, mass_g: mass }) => standing(one, mass, session.plan.test, aside).blocks.length).map(({ code }) => code);
  const what = runs.length === 1 ? "This dish" : alone.length ? `Dish ${alone.join(", ")}` : "Some dishes of this board together";
  return {
    blocks: covered(found.blocks, `${what} may not be used: the keeper's consent, or what is left of the piece, stands against it. Leave out what it is about, or uncover to see why.`),
    warns: covered(found.warns, `Something speaks against using ${runs.length === 1 ? "this dish" : "a dish of this board"}; its keeper's limits or the loan.`),
  };
}

async function isHeldBack(session, runs, mass_g) {
  if (mass_g === null || mass_g <= 0 || mass_g > 1000) return complain("mass-error", "Give the mass in grams, for example 2,0.");
  const { blocks, warns } = await objections(session, runs, mass_g);
  if (blocks.length) return complain("mass-error", blocks.join(" "));
  if (!warns.length || state.warned === session.next) return complain("mass-error", "");
  state.warned = session.next;
  return complain("mass-error", `${warns.join(" ")} Press once more to go on all the same.`);
}

// The same run keeps its trial while that has not begun, so that a press at the kiln is not lost on the way.
function trialOf(run) {
  const place = `isokom-run:${sessionId}:${run.index}:${run.trial?.id ?? ""}`;
  const trialId = localStorage.getItem(place) ?? newId();
  localStorage.setItem(place, trialId);
  return trialId;
}

async function go() {
  const { session } = state;
  const run = session.runs[session.next];
  if (run.state === "running") return location.assign(lookAddress(run.test));
  if (state.isBusy) return undefined;
  state.isBusy = true;
  const isBoard = session.plan.test === "fuse";
  const mass_g = isBoard ? session.plan.mass_g : numberFrom(at("mass").value);
  const runs = isBoard ? boardOf(session) : [run];
  state.isBusy = runs !== null && !(await isHeldBack(session, runs, mass_g));
  if (!runs) return complain("mass-error", "Every dish of the reference is left out, and a board is read against its reference. Do one of them after all.");
  if (!state.isBusy) return undefined;
  return session.plan.test === "flame" ? toTheFlame(session, run, mass_g) : location.assign(testAddress(session, run, mass_g));
}

function toTheFlame(session, run, mass_g) {
  const trialId = trialOf(run);
  const checked = [...document.querySelectorAll("[data-check][aria-pressed=true]")].map((button) => button.dataset.check);
  const { out_of_kiln } = draftOf(trialId) ?? {};
  saveDraft(trialId, { ...setupOfRun(session, run.index, mass_g, checked), ...(out_of_kiln ? { out_of_kiln } : {}) });
  return location.assign(`/bench/run?t=${trialId}`);
}

async function showList() {
  if (!at("list").hidden) {
    at("list").hidden = true;
    at("show-list").textContent = "Open the list";
    return;
  }
  if (!(await write("plan.unblinded", { what: "list", why: "" }))) return;
  const { session } = state;
  at("list").replaceChildren(...session.runs.map((run) => make("li", {}, make("span", { className: "code", textContent: run.code }), plannedName(session.plan.glasses[run.glass]))));
  at("list").hidden = false;
  at("show-list").textContent = "Close the list";
}

async function changed() {
  const [what, text] = [at("changed-what").value, oneLine(at("changed").value)];
  const range = RANGES[what];
  const value = range ? numberFrom(text) : text;
  const isWrong = range && (value === null || value < range[0] || value > range[1]);
  if (complain("changed-error", isWrong ? `Give a number from ${range[0]} to ${range[1]}.` : "") || !text) return;
  if (await write("plan.conditions", { conditions: { ...state.session.conditions, [what]: value }, why: "", over: state.session.latest.conditions })) at("changed").value = "";
}

function stepMass(direction) {
  const mass_g = numberFrom(at("mass").value) ?? state.session.plan.mass_g;
  const step = mass_g + direction * 0.01 < 1 ? 0.01 : 0.1;
  at("mass").value = grams(Math.min(1000, Math.max(0.01, Math.round((mass_g + direction * step) * 1e4) / 1e4)));
}

// The ledger of a covered session is written when that ends.
async function writeLedger() {
  return [await writeMissingUses(), ...(await takeForEveryTest())].filter(Boolean).join(" ");
}

async function uncover(kind, body) {
  if (await write(kind, body)) complain("store-error", await writeLedger());
}

// Before the end it needs a reason: the book tells it.
function endEarly(kind, body) {
  const why = oneLine(at("uncover-why").value);
  if (!complain("uncover-error", why ? "" : "Say in a few words why.")) uncover(kind, { ...body, why });
}

// A page that has just opened takes no press: it would be the second tap of the one that led here.
function later(work) {
  const from = performance.now() + JUST_OPENED_MS;
  return () => performance.now() >= from && work();
}

/** Ask why, then leave a dish out, or count it as done elsewhere. */
function leave(index) {
  state.leaving = index;
  at("skip-title").textContent = `Why leave dish ${state.session.runs[index].code} out?`;
  at("skip-why").showModal();
}

function connect() {
  at("go").addEventListener("click", later(go));
  at("skip").addEventListener("click", later(() => leave(state.session.next)));
  at("keep-it").addEventListener("click", () => at("skip-why").close());
  for (const button of document.querySelectorAll("[data-why]")) {
    button.addEventListener("click", () => {
      at("skip-why").close();
      write(button.dataset.done === undefined ? "plan.skipped" : "plan.done", { run: state.leaving, why: button.dataset.why, over: state.session.latest.of(state.leaving) });
    });
  }
  for (const button of document.querySelectorAll("[data-check]")) button.addEventListener("click", () => button.setAttribute("aria-pressed", String(button.getAttribute("aria-pressed") !== "true")));
  for (const button of document.querySelectorAll("[data-mass]")) button.addEventListener("click", () => stepMass(Number(button.dataset.mass)));
  at("close").addEventListener("click", later(() => at("end").showModal()));
  at("end-later").addEventListener("click", () => at("end").close());
  at("end-now").addEventListener("click", () => {
    at("end").close();
    uncover("plan.closed", { why: "" });
  });
  at("close-early").addEventListener("click", () => endEarly("plan.closed", {}));
  at("uncover-now").addEventListener("click", () => endEarly("plan.unblinded", { what: "all" }));
  at("show-list").addEventListener("click", showList);
  at("save-changed").addEventListener("click", changed);
  at("here-all-the-same").addEventListener("click", () => {
    state.isTaken = state.isHere = true;
    render();
  });
  onChange((what) => what === "recorded" && !state.isBusy && load());
}

await load();
if (!state.session) {
  await askDesk();
  await load();
}
connect();
if (state.session && !state.session.isCovered) complain("store-error", await writeLedger());
if (!at("next").hidden) at("go").focus({ preventScroll: true }); // for the pedal
document.documentElement.dataset.ready = "session";

// What other tablets have done with it, now and while it is looked at.
const askAndShow = async () => {
  if (document.visibilityState !== "visible" || state.isBusy) return;
  await askDesk();
  await load();
  if (state.session && !state.session.isCovered && state.isHere) complain("store-error", await writeLedger());
};
askAndShow();
setInterval(askAndShow, ASK_EVERY_MS);
window.addEventListener("pageshow", (event) => event.persisted && location.reload()); // the way back finds it as it is now
