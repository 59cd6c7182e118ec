// Time between two presses, for display. The desk judges by the same rule (server/trial/timing.py); a test holds both together.
const DRIFT_MS = 200;

/** A moment now, as a press made on this page would carry it. */
export function stampNow(page) {
  return { wall_ms: Date.now(), mono_ms: performance.now(), page };
}

/** {seconds, flags}; a press may carry shift_ms, already in its stamps. seconds is null where no clock can say. wasHidden: the page was out of sight in between. */
export function elapsed(first, second, wasHidden) {
  const wall = second.wall_ms - first.wall_ms;
  const mono = second.mono_ms - first.mono_ms;
  const flags = [];
  let chosen = mono;
  if (first.page !== second.page) {
    chosen = wall;
    flags.push("across_reload");
  } else if (Math.abs(wall - mono) > DRIFT_MS) {
    const slept = wall > mono && wasHidden;
    chosen = slept ? wall : mono;
    flags.push(slept ? "screen_slept" : "clock_set");
  }
  if (first.shift_ms || second.shift_ms) flags.push("corrected");
  return chosen < 0 ? { seconds: null, flags: [...flags, "clock_set_back"] } : { seconds: chosen / 1000, flags };
}
