// Entries of firings -> what each was told and what was read of it. Pure but for gathering.
import { bySubject, mergedEntries } from "../web/merged.js";

const [HOUR_MS, MINUTE_MS] = [3_600_000, 60_000];
const [STILL_SOAKING_K, LEAST_SPAN_H, READ_K] = [5, 1 / 6, 3]; // a controller's to and fro; less time between two readings tells no rate; what two readings are wrong by

/** A reading so little before the start counts as the start: moments are typed in whole minutes. */
export const EARLY_MS = 90_000;

const momentOf = ({ at_ms, body }) => at_ms - (body.ago_min ?? 0) * MINUTE_MS;

/** {id, at_ms (when the kiln was switched on), recorded_ms (when that was recorded), plan (body of the start), readings [{id, h, t_c}] in their order, ended ({ids of every end, outcome, note of the last}) or null} or null where the start has not arrived. */
export function firingFrom(entries) {
  const start = entries.find(({ kind }) => kind === "firing.started");
  if (!start) return null;
  const back = new Set(entries.filter(({ kind }) => kind === "firing.taken_back").map(({ body }) => body.entry));
  const holds = entries.filter(({ id }) => !back.has(id));
  const begun = holds.findLast(({ kind }) => kind === "firing.begun");
  const at_ms = start.at_ms - (begun?.body.ago_min ?? 0) * MINUTE_MS;
  const readings = holds.filter(({ kind }) => kind === "firing.read").map((one) => ({ id: one.id, h: (momentOf(one) - at_ms) / HOUR_MS, t_c: one.body.t_c }));
  const ends = holds.filter(({ kind }) => kind === "firing.ended");
  return { id: start.subject, at_ms, recorded_ms: start.at_ms, plan: start.body, readings: readings.filter(({ h }) => h * HOUR_MS >= -EARLY_MS).map((one) => ({ ...one, h: Math.max(0, one.h) })).sort((a, b) => a.h - b.h), ended: ends.length ? { ids: ends.map(({ id }) => id), ...ends.at(-1).body } : null };
}

/** Every firing of this tablet and of those that the desk knows, newest first. */
export async function allFirings() {
  const groups = bySubject(await mergedEntries("/make/firings.json", "firing"));
  return [...groups.values()].map(firingFrom).filter(Boolean).sort((a, b) => b.at_ms - a.at_ms);
}

/** °C that the plan has h hours after the start; its last one after its end. corners: [{h, t_c}]. */
export function plannedAt(corners, h) {
  const next = corners.findIndex((one) => one.h >= h);
  if (next <= 0) return next === 0 ? corners[0].t_c : corners.at(-1).t_c;
  const [a, b] = [corners[next - 1], corners[next]];
  return b.h === a.h ? b.t_c : a.t_c + ((b.t_c - a.t_c) * (h - a.h)) / (b.h - a.h);
}

/** The fastest fall within the slow part, at the least: {rate_k_h, stress_pa, from_c, to_c, isFaster (than planned, beyond what readings are wrong by)}, or null. Stress goes with the rate.
 *
 * It counts from the last reading that was still at the soak. Of two readings far enough apart only what lies within the slow part counts, over the whole time between them: the
 * glass took no longer than that, so it fell at least so fast there.
 */
export function fastestFall({ plan, readings }) {
  const slow = plan.segments.find(({ kind }) => kind === "slow");
  const soaking = readings.findLastIndex(({ t_c }) => t_c >= slow.from_c - STILL_SOAKING_K);
  const after = readings.slice(Math.max(0, soaking));
  const falls = after.map((there, j) => {
    const here = after.findLast((one, i) => i < j && there.h - one.h >= LEAST_SPAN_H);
    if (!here || here.t_c <= there.t_c) return null;
    const [from_c, to_c] = [Math.min(here.t_c, slow.from_c), Math.max(there.t_c, slow.to_c)];
    const span_h = there.h - here.h;
    return from_c > to_c ? { from_c, to_c, rate_k_h: (from_c - to_c) / span_h, isFaster: from_c - to_c - READ_K > 1.05 * slow.rate_k_h * span_h } : null;
  }).filter(Boolean);
  if (!falls.length) return null;
  const worst = falls.reduce((a, b) => (b.rate_k_h > a.rate_k_h ? b : a));
  return { ...worst, stress_pa: (slow.stress_pa * worst.rate_k_h) / slow.rate_k_h };
}
