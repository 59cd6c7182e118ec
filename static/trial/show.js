// One trial at the desk: a time is left out, or counts again, with a reason. The page is read anew once the desk has heard.
import { NotKept, onChange, record } from "../web/outbox.js";
import { at, complain, oneLine } from "../web/parts.js";

const trialId = decodeURIComponent(location.pathname.split("/").at(-1));

// Which statements about its times a new one comes after: those of which the page tells.
const latest = JSON.parse(at("left-out-say")?.dataset.latest ?? "{}");
const lanesOf = (lane) => (lane === "all" ? Object.keys(latest) : [lane]);
const overOf = (lane) => [...new Set(lanesOf(lane).flatMap((one) => latest[one] ?? []))];

async function say(kind, body) {
  try {
    await record(kind, trialId, { ...body, over: overOf(body.lane) });
  } catch (error) {
    if (!(error instanceof NotKept)) throw error;
    return complain("left-out-say", error.message);
  }
  complain("left-out-say", "It is written down here, and counts once the desk has heard.");
  return onChange((what) => what === "marked" && location.reload());
}

at("leave-it-out")?.addEventListener("click", () => {
  const why = oneLine(at("left-out-why").value);
  if (!complain("left-out-error", why ? "" : "Say in a few words why.")) say("trial.left_out", { lane: at("lane").value, why });
});
for (const button of document.querySelectorAll("[data-take-in]")) button.addEventListener("click", () => say("trial.taken_in", { lane: button.dataset.takeIn }));
document.documentElement.dataset.ready = "trial";
