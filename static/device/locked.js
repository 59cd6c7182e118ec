// The two clocks of a page across a locked screen. What was pressed is kept for this visit, so that a page which the device threw away meanwhile is noticed too.
import { elapsed, stampNow } from "../trial/clock.js";

const BEGAN = "isokom-locked-began";
const LEAST_S = 10;
const page = crypto.randomUUID();
const seconds = (value) => `${Math.round(value)} s`;
let hidden = false;

export const UNTRIED = { key: "locked", label: "Stopwatch over a locked screen", result: "unknown", words: "Not tried yet.", figure: null, unit: "" };

/** What two stamps with a locked screen between them tell. */
export function judged(first, second) {
  const { seconds: gone, flags } = elapsed(first, second, true);
  const told = (result, words) => ({ ...UNTRIED, result, words, figure: Math.round(gone ?? 0), unit: "s" });
  if (flags.includes("across_reload")) return told("mind", `The device threw this page away while it was locked. A trial goes on from what was pressed, by the clock of the day: keep the screen on during a trial.`);
  if (flags.includes("screen_slept")) return told("mind", `The page’s stopwatch stood still while the screen was locked (${seconds(gone)} by the clock of the day). Isokom then takes that clock and says so beside the time; keep the screen on during a trial.`);
  if (flags.length) return told("mind", "The clock of the day was set meanwhile. Try once more.");
  return told("good", `The stopwatch ran on for all ${seconds(gone)}.`);
}

function isLongEnough(first) {
  return Date.now() - first.wall_ms >= LEAST_S * 1000;
}

/** Call say(words) and done(check) as it goes; begin() is for the button. */
export function watchLocked(say, done) {
  function look() {
    const kept = sessionStorage.getItem(BEGAN);
    if (!kept || document.visibilityState !== "visible") return;
    const first = JSON.parse(kept);
    if (first.page === page && !hidden) return;
    sessionStorage.removeItem(BEGAN);
    if (!isLongEnough(first)) return say(`That was less than ${LEAST_S} s. Press again, and leave it locked for longer.`);
    done(judged(first, stampNow(page)));
  }

  document.addEventListener("visibilitychange", () => {
    if (document.visibilityState === "hidden") hidden = true;
    else look();
  });
  window.addEventListener("pageshow", look);
  look();
  return function begin() {
    hidden = false;
    sessionStorage.setItem(BEGAN, JSON.stringify(stampNow(page)));
    say("Now lock the screen, wait half a minute, and unlock it.");
  };
}
