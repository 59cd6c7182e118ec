// Entries of firings -> what each was told and what was read of it. Pure but for gathering.
import { bySubject, mergedEntries } from "../web/merged.js";

/** {id, at_ms, plan (body of the start), readings [{id, at_ms, h, t_c}], ended (body or null)} or null where the start has not arrived. */
export function firingFrom(entries) {
  const start = entries.find(({ kind }) => kind === "firing.started");
  if (!start) return null;
  const back = new Set(entries.filter(({ kind }) => kind === "firing.taken_back").map(({ body }) => body.entry));
  const readings = entries.filter(({ kind, id }) => kind === "firing.read" && !back.has(id)).map(({ id, at_ms, body }) => ({ id, at_ms, h: (at_ms - start.at_ms) / 3_600_000, t_c: body.t_c }));
  return { id: start.subject, at_ms: start.at_ms, plan: start.body, readings: readings.filter(({ h }) => h >= 0), ended: entries.findLast(({ kind }) => kind === "firing.ended")?.body ?? null };
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

/** The fastest fall between two readings within the slow part: {rate_k_h, stress_pa, from_c, to_c}, or null. Stress goes with the rate. */
export function fastestFall({ plan, readings }) {
  const slow = plan.segments.find(({ kind }) => kind === "slow");
  const falls = readings.slice(1).map((one, i) => ({ from_c: readings[i].t_c, to_c: one.t_c, rate_k_h: (readings[i].t_c - one.t_c) / Math.max(one.h - readings[i].h, 1e-6) }));
  const inside = falls.filter(({ from_c, to_c, rate_k_h }) => rate_k_h > 0 && Math.min(from_c, slow.from_c) - Math.max(to_c, slow.to_c) > 1);
  if (!inside.length) return null;
  const worst = inside.reduce((a, b) => (b.rate_k_h > a.rate_k_h ? b : a));
  return { ...worst, stress_pa: (slow.stress_pa * worst.rate_k_h) / slow.rate_k_h };
}
