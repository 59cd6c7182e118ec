"""What the flame test of a glass should show: ranges of sag, rounding and glow from its curve, its mass and one torch number.

The torch number is the effective h for a piece of 2 g, fitted to sag times of a glass whose curve is known; pieces of other mass meet
h · (m / 2 g)^−0.096, so that sag goes with mass as the correction for mass says. As the fit of h to sag alone puts the plateau too low,
rounding is foretold well only with Λ fitted to rounding times of the same reference. Model: flame.py; ranges: data/flame.json, "forecast".
"""

from dataclasses import dataclass, replace

import numpy as np

from server.errors import OutOfBounds, Refused
from server.physics.chance import Z95
from server.physics.curve import isokom_vft
from server.physics.flame import History, Setting, glow_time_s, history, radius_m, sag_slope_per_k, sag_time_s, until, usual
from server.physics.root import crossing
from server.physics.table import table

STAGES = ("sag", "round", "glow")
WIDTHS = np.array([0.0, -1.0, 1.0, -Z95, Z95])  # best, ends of 68 and of 95 of 100, in standard deviations of ln t
STEP_LN, STEP_K = 0.02, 1.0
SOFTENING = 7.6


@dataclass(frozen=True)
class Torch:
    """h in W/(m²K) for a piece of 2 g, one standard deviation of its ln, Λ fitted to the reference's rounding (None: it was not timed, or stalled),
    the plateau in °C that h gives, ln t of sag per K in this flame, and what is to be said."""

    h_w_m2k: float
    u_ln: float
    round_dose: float | None
    plateau_c: float
    sag_slope_per_k: float
    words: tuple[str, ...]


@dataclass(frozen=True)
class Range:
    """Seconds: the best guess and the ends that hold 68 and 95 of 100, None where that stalls (more than 10 minutes); words to be said beside it."""

    best_s: float | None
    low68_s: float | None
    high68_s: float | None
    low95_s: float | None
    high95_s: float | None
    words: tuple[str, ...]

    def holds(self, observed_s: float, share: int = 95) -> bool:
        """Whether a time lies in the range of 68 or 95 of 100; an end that stalls is open."""
        low, high = (self.low68_s, self.high68_s) if share == 68 else (self.low95_s, self.high95_s)
        return low is not None and low <= observed_s and (high is None or observed_s <= high)


def h_at_mass(h_w_m2k, mass_g):
    """h in W/(m²K) as it acts on a piece of mass_g, from that of a piece of 2 g."""
    rule = table("flame")
    return h_w_m2k * (np.asarray(mass_g, dtype=float) / rule["mass_g"]["value"]) ** -rule["size_exponent"]["value"]


def _inside(name: str, label: str, unit: str, value) -> None:
    """Raises OutOfBounds where a value of data/flame.json's `name` lies beyond its low or high, or is no number."""
    rule = table("flame")[name]
    low, high = rule.get("search_low", rule["low"]), rule.get("search_high", rule["high"])
    given = np.atleast_1d(np.asarray(value, dtype=float))
    wrong = given[~((given >= low) & (given <= high))]
    if wrong.size:
        raise OutOfBounds(f"The estimate of the flame holds for a {label} of {low:g} to {high:g} {unit}, not {wrong[0]:g}.", quantity=name, value=float(wrong[0]), low=low, high=high)


def _sound_curve(vft: dict, preheat_c: float) -> None:
    soft_c = isokom_vft(SOFTENING, vft["a"], vft["b"], vft["t0_c"])
    if not (np.isfinite(soft_c) and vft["b"] > 0 and soft_c > preheat_c):
        raise Refused("This viscosity curve has no softening temperature above the preheat.", code="no_curve")


def extrapolated(vft: dict, preheat_c: float) -> tuple[str, ...]:
    """Why an estimate is carried beyond what was tried: the glass's softening, the preheat. Empty where it is not."""
    rule, found = table("flame"), []
    soft_c, heat = isokom_vft(SOFTENING, vft["a"], vft["b"], vft["t0_c"]), rule["preheat_c"]
    if not rule["softening_c"]["low"] <= soft_c <= rule["softening_c"]["high"]:
        found.append(f"extrapolated: softens at {soft_c:.0f} °C, tried from {rule['softening_c']['low']} to {rule['softening_c']['high']} °C")
    if not heat["usual_low"] <= preheat_c <= heat["usual_high"]:
        found.append(f"extrapolated: preheat of {preheat_c:.0f} °C, tried from {heat['usual_low']} to {heat['usual_high']} °C")
    return tuple(found)


def torch_number(mean_sag_s: float, mass_g: float, vft: dict, preheat_c: float, u_ln_time: float = 0.0, u_k: float = 0.0, mean_round_s: float | None = None) -> Torch:
    """The torch number from the mean (geometric) sag time of reference runs of mass_g and preheat_c: t falls as h rises.

    u_ln_time : one standard deviation of the mean's ln; u_k : of the reference's curve, in K. Both go into u_ln.
    mean_round_s : mean time until the same pieces were round
    raises    : OutOfBounds for mass or preheat, Refused (code no_torch) where no h within the search gives this time
    """
    rule = table("flame")["convection_w_m2k"]
    _inside("mass_g", "mass", "g", mass_g)
    _inside("preheat_c", "preheat", "°C", preheat_c)
    _sound_curve(vft, preheat_c)

    def sag(h):
        return float(sag_time_s(vft, mass_g, preheat_c, h_at_mass(h, mass_g)))

    low, high = float(rule["search_low"]), float(rule["search_high"])
    slowest, fastest = sag(low), sag(high)
    if not fastest <= mean_sag_s <= slowest:
        raise Refused(f"No flame that the model knows makes this reference sag in {mean_sag_s:.3g} s: it knows {fastest:.1f} to {slowest:.0f} s.", code="no_torch")
    h = float(np.exp(crossing(lambda ln_h: np.log(mean_sag_s / sag(np.exp(ln_h))), np.log(low), np.log(high))))
    falls = (np.log(sag(h * np.exp(-STEP_LN))) - np.log(sag(h * np.exp(STEP_LN)))) / (2.0 * STEP_LN)
    slope = float(sag_slope_per_k(vft, mass_g, preheat_c, h_at_mass(h, mass_g)))
    u_ln = float(np.hypot(u_ln_time, max(slope, table("flame")["forecast"]["sag_per_k"]) * u_k) / falls)
    words = () if rule["low"] <= h <= rule["high"] else (f"unusual torch number: {h:.0f} W/(m²K), usual {rule['low']} to {rule['high']}; the way of holding, the flame's place or the curve may be others than taken",)
    made = history(vft, mass_g, preheat_c, h_at_mass(h, mass_g))
    return Torch(float(h), u_ln, _round_dose(made, mass_g, mean_round_s), float(made.plateau_c), slope, words + extrapolated(vft, preheat_c))


def _round_dose(made: History, mass_g: float, mean_round_s: float | None) -> float | None:
    """Λ that makes this history round at mean_round_s; None without such a time, or where it stalled."""
    s = usual()
    if mean_round_s is None or not 0.0 < mean_round_s <= s.stall_s:
        return None
    late = max(mean_round_s - float(made.time_s[-1]), 0.0) / float(made.plateau_eta_pas)
    dose = float(np.interp(mean_round_s, made.time_s, made.dose_per_pa)) + late
    return dose * s.tension_n_m / float(radius_m(mass_g, s.density_kg_m3))


def _stages(vft: dict, mass_g, preheat_c, h, s: Setting) -> tuple[np.ndarray, np.ndarray]:
    """(ln t of sag and of rounding, stalled or not (2, ...); °C on leaving the flame, at rounding or after s.stall_s)."""
    made = history(vft, mass_g, preheat_c, h, s)
    sag, _ = until(made, s.sag_dose_per_pa)
    even, at_c = until(made, s.round_dose * radius_m(mass_g, s.density_kg_m3) / s.tension_n_m)
    return np.log(np.array([sag, even])), np.where(even > s.stall_s, made.plateau_c, at_c)


def ranges(vft: dict, u_k, mass_g, preheat_c, h_w_m2k, u_ln_h, round_dose: float | None = None) -> dict[str, np.ndarray]:
    """Stage -> s (..., 5): best, low68, high68, low95, high95; infinite where that stalls. Broadcasts over all; bounds are the caller's.

    vft, u_k : curve and one standard deviation of its temperatures in K; h_w_m2k, u_ln_h : the torch number and that of its ln;
    round_dose : Λ of the same torch's reference, None takes the usual one and a wider range.
    Added as squares in ln t: the stated ranges, the curve, the torch number, and how h goes with mass.
    """
    rule, s = table("flame"), usual()
    s = s if round_dose is None else replace(s, round_dose=round_dose)
    u_k, mass, heat, h, u_ln_h, a, b, t0 = np.broadcast_arrays(*(np.asarray(x, dtype=float) for x in (u_k, mass_g, preheat_c, h_w_m2k, u_ln_h, vft["a"], vft["b"], vft["t0_c"])))
    shape = (5, *[1] * u_k.ndim)
    more_h, hotter = (np.array(x).reshape(shape) for x in ([0, STEP_LN, -STEP_LN, 0, 0], [0, 0, 0, STEP_K, -STEP_K]))
    ln_t, exit_c = _stages({"a": a, "b": b, "t0_c": t0 + hotter}, mass, heat, h_at_mass(h, mass) * np.exp(more_h), s)
    by_h, by_k = (ln_t[:, 1] - ln_t[:, 2]) / (2.0 * STEP_LN), (ln_t[:, 3] - ln_t[:, 4]) / (2.0 * STEP_K)
    told = rule["forecast"]
    made = {}
    for i, (stage, own_ln, per_k) in enumerate((("sag", told["sag_ln"], told["sag_per_k"]), ("round", np.log(told["round_factor" if round_dose else "round_factor_unfitted"]), told["round_per_k"]))):
        by_mass = by_h[i] * np.log(mass / rule["mass_g"]["value"]) * rule["size_exponent"]["u"]
        sd = np.sqrt(own_ln**2 + (np.maximum(np.abs(by_k[i]), per_k) * u_k) ** 2 + (by_h[i] * u_ln_h) ** 2 + by_mass**2)
        times = np.exp(np.minimum(ln_t[i, 0][..., None] + sd[..., None] * WIDTHS, 100.0))
        made[stage] = np.where(times > s.stall_s, np.inf, times)
    glow = glow_time_s(exit_c, mass, s)
    with np.errstate(divide="ignore"):
        ln_glow = np.log(glow)
    leaves = [np.where(glow[i] > 0, ln_glow[i] - ln_glow[j], 0.0) for i, j in ((1, 2), (3, 4))]
    sd = np.sqrt(told["glow_ln"] ** 2 + (leaves[0] / (2.0 * STEP_LN) * u_ln_h) ** 2 + (leaves[1] / (2.0 * STEP_K) * u_k) ** 2)
    return {**made, "glow": np.exp(ln_glow[0][..., None] + sd[..., None] * WIDTHS)}


def _words(stage: str, best: float, high95: float) -> tuple[str, ...]:
    if stage == "glow":
        return ("same colour only",)
    if not np.isfinite(best):
        return ("stalls: more than 10 minutes",)
    return ("may stall: more than 10 minutes",) if not np.isfinite(high95) else ()


def forecast(vft: dict, u_k: float, mass_g: float, preheat_c: float, h_w_m2k: float, u_ln_h: float, round_dose: float | None = None) -> dict[str, Range]:
    """"sag", "round" and "glow" of one piece as ranges. Arguments as in `ranges`.

    raises : OutOfBounds for mass, preheat or h beyond data/flame.json, Refused for a curve that is none
    """
    _inside("mass_g", "mass", "g", mass_g)
    _inside("preheat_c", "preheat", "°C", preheat_c)
    _inside("convection_w_m2k", "torch number", "W/(m²K)", h_w_m2k)
    _sound_curve(vft, preheat_c)
    if not (u_k >= 0 and u_ln_h >= 0):
        raise Refused("What a curve or a torch number may be off is no negative number.", code="no_uncertainty")
    beyond, found = extrapolated(vft, preheat_c), {}
    for stage, five in ranges(vft, u_k, mass_g, preheat_c, h_w_m2k, u_ln_h, round_dose).items():
        ends = [float(x) if np.isfinite(x) else None for x in five]
        unfitted = ("not fitted to a reference's rounding",) if stage == "round" and round_dose is None else ()
        found[stage] = Range(*ends, words=_words(stage, five[0], five[4]) + unfitted + beyond)
    return found
