// What a kiln is told so that glass comes down without stress. Pure; the twin of server/physics/anneal.py, where the rules stand; `data` is server/physics/data/anneal.json.
import { CannotMake } from "./addition.js";

const K_H = 3600;
const at = (vft, logEta) => vft.t0_c + vft.b / (logEta - vft.a);
const logEtaAt = (vft, t_c) => vft.a + vft.b / (t_c - vft.t0_c);

/** Pa at the surface per K/s of steady cooling. */
export function stressPerRate(data, { shape, size_mm }, alpha_1e7_k) {
  const { youngs_modulus_pa, diffusivity_m2_s, poisson } = data.glass;
  return (youngs_modulus_pa * alpha_1e7_k * 1e-7 * (size_mm / 2000) ** 2) / (data.shapes[shape].c * diffusivity_m2_s * (1 - poisson));
}

function openAt(data, { shape, size_mm }, alpha_1e7_k, factor) {
  const [glass, one] = [data.glass, data.shapes[shape]];
  const perK = (glass.youngs_modulus_pa * alpha_1e7_k * 1e-7 * one.n * data.open_w_m2k * size_mm) / 2000 / (one.c * (1 - glass.poisson) * glass.conductivity_w_mk);
  return data.room_c + data.temporary_pa / factor / perK;
}

function soakOf(data, glasses, size_mm) {
  const rule = data.soak;
  const stiffest = glasses.reduce((a, b) => (b.annealing_c > a.annealing_c ? b : a));
  const wanted = stiffest.annealing_c + rule.above_estimate_k;
  const soft = Math.min(...glasses.map((one) => at(one.vft, rule.holds_shape_log)));
  const minutes = Math.min(rule.most_min, Math.max(glasses.length === 1 ? rule.least_min : rule.mixed_min, rule.min_per_mm * size_mm));
  if (wanted <= soft) return { soak_c: wanted, minutes, warnings: [] };
  const longer = 10 ** Math.max(0, logEtaAt(stiffest.vft, soft) - rule.relieves_log);
  if (minutes * longer > rule.most_shared_min) return { soak_c: soft, minutes: rule.most_shared_min, warnings: ["no_shared_soak"] };
  return { soak_c: soft, minutes: minutes * longer, warnings: [longer > 1 ? "long_shared_soak" : "low_shared_soak"] };
}

function check(data, glasses, { size_mm }, { kiln_heats_k_h, kiln_cools_k_h, peak_c, peak_min }) {
  if (!glasses.length) throw new CannotMake("Choose a glass.");
  if (!(size_mm >= 0.5 && size_mm <= 200)) throw new CannotMake("Sizes from 0.5 to 200 mm can be reckoned.");
  if (![kiln_heats_k_h, kiln_cools_k_h].every((rate) => rate >= 1 && rate <= 10_000)) throw new CannotMake("The kiln's rates lie from 1 to 10,000 K an hour.");
  if (peak_c !== null && !(peak_c <= data.most_peak_c && peak_min <= data.most_peak_min)) throw new CannotMake(`Peaks up to ${data.most_peak_c} °C, held for ${data.most_peak_min} minutes at most, can be reckoned.`);
}

function limitsOf(data, glasses, piece, wish) {
  const known = glasses.map((one) => one.alpha_1e7_k).filter((alpha) => alpha !== null);
  const alpha = known.length ? Math.max(...known) : data.glass.alpha_1e7_k;
  const { factor } = data.care[wish.care];
  const perRate = stressPerRate(data, piece, alpha) / K_H;
  return {
    perRate, isKnown: known.length === glasses.length, passing: data.temporary_pa / factor / perRate, slow: data.aims[wish.aim].stress_pa / data.structural / factor / perRate,
    open: openAt(data, piece, alpha, factor),
  };
}

/** {segments, soak_c, garage_c, open_c, hours, warnings} for glasses [{vft, annealing_c, strain_c, alpha_1e7_k or null}], piece {shape, size_mm} and wish. */
export function programme(data, glasses, given, wish) {
  check(data, glasses, given, wish);
  const piece = { ...given, size_mm: given.size_mm * (data.shapes[given.shape].thick ?? 1) }; // a shelf keeps one face hot
  const { perRate, isKnown, passing, slow, open } = limitsOf(data, glasses, piece, wish);
  const { soak_c, minutes, warnings } = soakOf(data, glasses, piece.size_mm);
  const garage_c = Math.min(soak_c, ...glasses.map((one) => at(one.vft, data.soak.garage_log)));
  if (wish.peak_c !== null && wish.peak_c <= soak_c) throw new CannotMake(`The peak lies below the soak at ${soak_c.toFixed(0)} °C. Give a hotter one, or none.`);
  const end_c = Math.min(...glasses.map((one) => one.strain_c)) - data.soak.below_strain_k;
  const { kiln_heats_k_h: heats, kiln_cools_k_h: cools } = wish;
  const line = (kind, from_c, to_c, limit, kiln, hold_min, stress) => {
    const rate_k_h = Math.min(limit, kiln);
    return { kind, from_c, to_c, rate_k_h, hold_min, stress_pa: stress * rate_k_h * perRate, is_by_kiln: kiln < limit };
  };
  const hasPeak = wish.peak_c !== null;
  const segments = [line("heat", wish.is_garaged ? garage_c : data.room_c, hasPeak ? wish.peak_c : soak_c, passing, heats, hasPeak ? wish.peak_min : minutes, wish.is_garaged ? 0 : 1)];
  if (hasPeak) segments.push({ ...line("down", wish.peak_c, soak_c, cools, cools, minutes, 0), is_by_kiln: true });
  segments.push(line("slow", soak_c, end_c, slow, cools, 0, data.structural), line("fast", end_c, data.room_c, Math.min(passing, data.faster * slow), cools, 0, 1));
  const hours = segments.reduce((all, one) => all + Math.abs(one.to_c - one.from_c) / one.rate_k_h + one.hold_min / 60, 0);
  return { segments, soak_c, garage_c, open_c: Math.min(end_c, open), hours, warnings: [...warnings, ...(isKnown ? [] : ["no_expansion"])] };
}
