// A firing as it goes: what the plan has now, what the kiln shows, how far apart, and how it ended. One field, one button; every reading is stored at once.
import { NotKept, onChange, record } from "../web/outbox.js";
import { at, complain, joined, make, numberFrom, oneLine } from "../web/parts.js";
import { cornersOf, firingPicture, hoursWords, linesTable } from "./firing.js";
import { allFirings, fastestFall, plannedAt } from "./firings.js";

const EVERY_MS = 20_000;
const OUTCOMES = { whole: "whole", cracked: "cracked", stuck: "stuck to the shelf", other: "otherwise" };
const id = new URLSearchParams(location.search).get("f") ?? "";
const state = { firing: null };

const off = (kelvin) => `${kelvin < 0 ? "−" : "+"}${Math.abs(Math.round(kelvin))} K`;

function leadWords({ plan, at_ms, ended }, corners) {
  if (ended) return `Ended: ${OUTCOMES[ended.outcome]}.${ended.note ? ` ${ended.note}` : ""}`;
  const h = (Date.now() - at_ms) / 3_600_000;
  return h >= corners.at(-1).h ? `The programme is over. Open below ${Math.round(plan.open_c)} °C.` : `${hoursWords(h)} in. The plan has ${Math.round(plannedAt(corners, h))} °C now.`;
}

function readingItem(one, corners) {
  const back = make("button", { type: "button", className: "quiet", textContent: "Take back", onclick: () => write("firing.taken_back", { entry: one.id }) });
  back.setAttribute("aria-label", `Take back ${one.t_c} °C`);
  return make("li", { className: "row" }, make("span", { textContent: `${hoursWords(one.h)}: ${one.t_c} °C, ${off(one.t_c - plannedAt(corners, one.h))} to the plan` }), ...(state.firing.ended ? [] : [back]));
}

function fallWords(firing) {
  const fall = fastestFall(firing);
  if (!fall) return "";
  const slow = firing.plan.segments.find(({ kind }) => kind === "slow");
  const times = fall.rate_k_h / slow.rate_k_h;
  const told = `From ${Math.round(fall.from_c)} to ${Math.round(fall.to_c)} °C it fell by ${Math.round(fall.rate_k_h)} K/h`;
  return times <= 1.05 ? `${told}, no faster than planned.` : `${told}, ${times.toFixed(1)} times as fast as planned: about ${(fall.stress_pa / 1e6).toFixed(1)} MPa stays at its surface instead of ${(slow.stress_pa / 1e6).toFixed(1)}. Look at it through crossed polarisers; anneal it again if it shows.`;
}

function render() {
  const { firing } = state;
  at("part-nothing").hidden = Boolean(firing);
  at("part-firing").hidden = !firing;
  if (!firing) return;
  const plan = { ...firing.plan, hours: cornersOf(firing.plan).at(-1).h };
  const corners = cornersOf(plan);
  at("lead").textContent = leadWords(firing, corners);
  at("what").textContent = `${firing.plan.glasses.map(({ name }) => name).join(" with ")}; ${firing.plan.shape}, ${firing.plan.size_mm} mm; begun ${new Date(firing.at_ms).toLocaleString(undefined, { dateStyle: "medium", timeStyle: "short" })}.`;
  at("picture").replaceChildren(firingPicture(plan, firing.readings));
  at("fall").textContent = fallWords(firing);
  at("readings").replaceChildren(...firing.readings.map((one) => readingItem(one, corners)));
  at("lines").replaceChildren(linesTable(plan));
  at("open-acts").hidden = Boolean(firing.ended);
}

const load = joined(async () => {
  state.firing = (await allFirings()).find((one) => one.id === id) ?? null;
  render();
});

/** Record, and say so where the store refuses; true where it was kept. */
async function write(kind, body) {
  try {
    await record(kind, id, body);
  } catch (error) {
    if (!(error instanceof NotKept)) throw error;
    complain("read-error", error.message);
    return false;
  }
  await load();
  return true;
}

async function read(event) {
  event.preventDefault();
  const t_c = numberFrom(at("shown").value);
  if (complain("read-error", t_c !== null && t_c >= -50 && t_c <= 2000 ? "" : "Type what the kiln shows in °C, for example 540.")) return;
  const typed = at("shown").value;
  at("shown").value = ""; // at once: the next reading may be typed while this one is being stored
  if (!(await write("firing.read", { t_c }))) at("shown").value ||= typed;
}

at("read").addEventListener("submit", read);
at("end").addEventListener("click", () => write("firing.ended", { outcome: at("outcome").value, note: oneLine(at("note").value) }));
onChange((what) => what === "marked" && load());
setInterval(render, EVERY_MS);
await load();
document.documentElement.dataset.ready = "firing";
