// How much the times of one glass, or one piece, scatter: from the trials kept on this tablet, else a judgement that is said to be one.
import { KINDS } from "./kinds.js";

/** {sd, df, count} of a test: known from the trials for the flame, judged for the others. */
export function scatterFor(test, trials) {
  return test === "flame" ? scatterOf(trials) : { sd: KINDS[test].sd, df: 0, count: 0 };
}

/** {sd, df, count}: pooled standard deviation of ln(time until round) within glasses and pieces; df = 0 where it is only judged. */
export function scatterOf(trials) {
  const groups = new Map();
  for (const { status, setup, spans } of trials) {
    const time = spans.round?.seconds;
    if (status !== "kept" || !(time > 0)) continue;
    const key = JSON.stringify([setup.piece, setup.piece ? null : setup.glass_key ?? setup.glass_name, setup.mass_g, setup.preheat_c, setup.torch]);
    groups.set(key, [...(groups.get(key) ?? []), Math.log(time)]);
  }
  let [squares, df, count] = [0, 0, 0];
  for (const logs of groups.values()) {
    const mean = logs.reduce((a, b) => a + b, 0) / logs.length;
    squares += logs.reduce((a, b) => a + (b - mean) ** 2, 0);
    df += logs.length - 1;
    count += logs.length > 1 ? logs.length : 0;
  }
  return df >= 3 ? { sd: Math.sqrt(squares / df), df, count } : { sd: KINDS.flame.sd, df: 0, count };
}
