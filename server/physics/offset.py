"""The unknown piece: how many kelvins hotter or cooler than a reference it sags in the flame, from stopwatch times of both.

    L = mean ln t_u − mean ln t_r,  offset = L / s,  s = 0.0048 per K
    95 % half-width = √((k / s)² + 1.96² (8² + (0.25 offset)²)),  k = Student's t · √(s_r²/n_r + s_u²/n_u)
It is called flame-softening offset and nothing else: never softening point, which is a standard fibre test, and no viscosity.
Sag alone enters; rounding and glow are flags (flame_protocol.py). Constants, and where they come from: data/flame.json.
"""

from dataclasses import dataclass

import numpy as np

from server.errors import Refused
from server.physics.chance import Z95
from server.physics.few import SHARE95, t_half_width
from server.physics.table import table

MINUS = "−"


@dataclass(frozen=True)
class Offset:
    """Offset of the unknown against its reference in K (positive: hotter), with 95 % half-widths: of the times alone, and of all; the ratio of times with its interval."""

    ratio: float
    ratio_low95: float
    ratio_high95: float
    delta_k: float
    statistical95_k: float
    u95_k: float
    n_reference: int
    n_unknown: int
    is_same_session: bool
    is_extrapolated: bool

    @property
    def is_distinguishable(self) -> bool:
        """Whether the interval leaves the reference out."""
        return abs(self.delta_k) > self.u95_k


@dataclass(frozen=True)
class Between:
    """Equivalent softening temperature, flame, in °C between two references, with 95 % half-widths in K: of the times alone, and of all.

    place: 0 at the cooler reference, 1 at the hotter; slope_per_k: 1/K by which ln t rose between the references.
    """

    softening_c: float
    statistical95_k: float
    u95_k: float
    place: float
    slope_per_k: float
    n_cooler: int
    n_hotter: int
    n_unknown: int
    is_outside: bool


def mass_corrected(times_s, masses_g, to_g: float = 2.0) -> np.ndarray:
    """Times (n,) as pieces of to_g would have taken them: t (to_g / m)^0.40. Masses in g, (n,) or one for all.

    raises : Refused (code no_time, no_mass) where one is not above 0
    """
    times, masses = np.broadcast_arrays(np.asarray(times_s, dtype=float), np.asarray(masses_g, dtype=float))
    _positive(times, "time", "s", "no_time")
    _positive(masses, "mass", "g", "no_mass")
    return times * (to_g / masses) ** table("flame")["mass_exponent"]["value"]


def mass_gap_ln(reference_g, unknown_g) -> float:
    """Mean ln of the unknown's masses less that of the reference's: how much the correction for mass has to bridge."""
    return float(np.log(np.asarray(unknown_g, dtype=float)).mean() - np.log(np.asarray(reference_g, dtype=float)).mean())


def _positive(values: np.ndarray, what: str, unit: str, code: str) -> None:
    wrong = values[~(np.isfinite(values) & (values > 0))]
    if wrong.size:
        raise Refused(f"A {what} of {wrong.flat[0]:g} {unit} is none.", code=code, value=float(wrong.flat[0]))


def _ln_times(times_s, who: str) -> np.ndarray:
    """ln of times (n,); refused where there are fewer than three, or one is no time."""
    times = np.asarray(times_s, dtype=float).ravel()
    _positive(times, "time", "s", "no_time")
    least = table("flame")["offset"]["least_trials"]
    if times.size < least:
        raise Refused(f"{who} has {times.size} trial{'' if times.size == 1 else 's'}; the offset needs {least} of each.", code="few_trials", n=int(times.size), least=least)
    return np.log(times)


def _half_width(ln_times: list[np.ndarray], weights: list[float]) -> float:
    """95 % half-width of a weighted sum of means: pooled degrees of freedom, Welch's where scatter or numbers are very uneven."""
    rule = table("flame")["offset"]
    n, variance = np.array([len(x) for x in ln_times]), np.array([x.var(ddof=1) for x in ln_times])
    parts = np.array(weights) ** 2 * variance / n
    is_uneven = variance.max() > rule["uneven_scatter"] * variance.min() or n.max() >= rule["uneven_number"] * n.min()
    total = float(parts.sum())
    if total == 0.0:
        return 0.0
    dof = total**2 / float((parts**2 / (n - 1)).sum()) if is_uneven else float((n - 1).sum())
    return float(np.sqrt(total)) * t_half_width(SHARE95, dof)


def softening_offset(reference_s, unknown_s, is_same_session: bool = True, mass_gap_ln: float = 0.0) -> Offset:
    """The offset of section B.2 from sag times in s, (n,) each, already corrected for mass.

    is_same_session : False takes 18 K instead of 8 K for what differs from day to day
    mass_gap_ln     : of `mass_gap_ln`; how unsure the exponent is goes into u95_k with it
    raises          : Refused for fewer than three of either (few_trials), a time that is none (no_time), or an offset beyond ± 150 K (too_far)
    """
    rule, exponent = table("flame")["offset"], table("flame")["mass_exponent"]
    reference, unknown = _ln_times(reference_s, "The reference"), _ln_times(unknown_s, "The unknown piece")
    slope = rule["slope_per_k"]
    ln_ratio = float(unknown.mean() - reference.mean())
    half = _half_width([unknown, reference], [1.0, -1.0])
    delta = ln_ratio / slope
    if abs(delta) > rule["refuse_beyond_k"]:
        raise Refused(f"The sag times differ by a factor of {np.exp(abs(ln_ratio)):.2g}, more than {rule['refuse_beyond_k']} K: too far from the reference for an offset.", code="too_far", delta_k=delta)
    model = np.hypot(rule["model_k"] if is_same_session else rule["across_sessions_k"], rule["model_share"] * delta)
    u95 = float(np.hypot(half / slope, Z95 * np.hypot(model, exponent["u"] * mass_gap_ln / slope)))
    ends = [float(np.exp(ln_ratio + sign * half)) for sign in (0, -1, 1)]
    return Offset(*ends, delta, half / slope, u95, len(reference), len(unknown), is_same_session, abs(delta) > rule["tried_to_k"])


def signed_k(value: float) -> str:
    """Whole kelvins with a sign: −44, +3, 0."""
    whole = round(value)
    return f"+{whole}" if whole > 0 else f"{MINUS}{-whole}" if whole < 0 else "0"


def words(offset: Offset, reference: str) -> str:
    """The offset under its only name, for print."""
    when = "same session" if offset.is_same_session else "other session"
    trials = f"n = {offset.n_unknown} + {offset.n_reference}"
    line = f"Flame-softening offset against {reference}: {signed_k(offset.delta_k)} ± {offset.u95_k:.0f} K (95 %, {trials}, {when})"
    if not offset.is_distinguishable:
        line += "; not distinguishable from the reference by this test"
    tried = table("flame")["offset"]["tried_to_k"]
    return line + (f"; extrapolated beyond the ± {tried} K that were tried" if offset.is_extrapolated else "")


def equivalent(offset: Offset, reference_c: float, reference_u95_k: float) -> tuple[float, float]:
    """(°C, its 95 % half-width in K): "equivalent softening temperature, flame" with the reference taken as reference_c, its own ± added as squares."""
    return reference_c + offset.delta_k, float(np.hypot(offset.u95_k, reference_u95_k))


def _bracket(cooler_c: float, hotter_c: float) -> float:
    """K between two references; refused where that is too little or too much."""
    rule, apart = table("flame")["bracket"], hotter_c - cooler_c
    if not apart >= rule["least_k"]:
        raise Refused(f"The two references soften {apart:.0f} K apart; less than {rule['least_k']} K cannot be told from their scatter.", code="bracket_narrow", apart_k=apart)
    if apart > rule["most_k"]:
        raise Refused(f"The two references soften {apart:.0f} K apart; over more than {rule['most_k']} K the time is no straight line.", code="bracket_wide", apart_k=apart)
    return apart


def between_two(reference_a_s, soft_a_c: float, reference_b_s, soft_b_c: float, unknown_s, u95_a_k: float = 0.0, u95_b_k: float = 0.0) -> Between:
    """Where the unknown lies between two known glasses of one colour class and session: ln t taken as a straight line in softening temperature.

    Times in s, (n,) each, corrected for mass; softening temperatures in °C with their 95 % half-widths in K. Errors by propagation, and 8 K.
    raises : Refused for fewer than three of any (few_trials), a bracket narrower than 30 or wider than 200 K, references whose times do not
             follow their softening beyond their scatter (bracket_unclear), an unknown more than 15 K outside (outside_bracket)
    """
    rule = table("flame")
    ends = sorted([(soft_a_c, u95_a_k, reference_a_s, "The first reference"), (soft_b_c, u95_b_k, reference_b_s, "The second reference")], key=lambda x: x[0])
    (cool_c, cool_u, cool_s, cool_name), (hot_c, hot_u, hot_s, hot_name) = ends
    apart = _bracket(cool_c, hot_c)
    cooler, hotter, unknown = _ln_times(cool_s, cool_name), _ln_times(hot_s, hot_name), _ln_times(unknown_s, "The unknown piece")
    rise = float(hotter.mean() - cooler.mean())
    if rise <= _half_width([hotter, cooler], [1.0, -1.0]):
        raise Refused("The reference that softens hotter did not clearly take longer to sag, so nothing can be laid between the two.", code="bracket_unclear", ratio=float(np.exp(rise)))
    place, slope = float(unknown.mean() - cooler.mean()) / rise, rise / apart
    outside_k = max(-place, place - 1.0) * apart
    if outside_k > rule["bracket"]["beyond_k"]:
        raise Refused(f"The piece lies {outside_k:.0f} K outside the two references; more than {rule['bracket']['beyond_k']} K is no interpolation.", code="outside_bracket", outside_k=outside_k)
    half = _half_width([unknown, cooler, hotter], [1.0, -(1.0 - place), -place]) / slope
    known = np.hypot((1.0 - place) * cool_u, place * hot_u)
    u95 = float(np.sqrt(half**2 + (Z95 * rule["bracket"]["model_k"]) ** 2 + known**2))
    return Between(cool_c + place * apart, half, u95, place, slope, len(cooler), len(hotter), len(unknown), outside_k > 0)
