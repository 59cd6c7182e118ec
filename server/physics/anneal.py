"""Bringing glass down to room temperature: what a kiln is told, the stress that each part of it leaves or means for a while, and when it may be opened.

Closed forms of steady cooling (data/anneal.json); rates in K/h, temperatures in °C, stress in Pa, sizes in mm. Twin: static/make/anneal.js.
"""

from dataclasses import dataclass, replace

from server.errors import Refused
from server.physics.table import table

K_H = 3600.0


@dataclass(frozen=True)
class Glass:
    """What annealing needs of a glass: its curve {a, b, t0_c} (log10 of dPa·s), annealing and strain point in °C, expansion in 1e-7/K (None where it is not known)."""

    vft: dict
    annealing_c: float
    strain_c: float
    alpha_1e7_k: float | None


@dataclass(frozen=True)
class Piece:
    """Shape (a key of data/anneal.json) and its thickness or diameter."""

    shape: str
    size_mm: float


@dataclass(frozen=True)
class Wish:
    """How good (aims) and how careful (care), the fastest that the kiln heats and cools, and what comes before: a start from a garage that is hot already, or a peak that is held."""

    aim: str = "fine"
    care: str = "usual"
    kiln_heats_k_h: float = 600.0
    kiln_cools_k_h: float = 600.0
    peak_c: float | None = None
    peak_min: float = 0.0
    is_garaged: bool = False


@dataclass(frozen=True)
class Segment:
    """One line for a controller. stress_pa: what it means at most: left for good after "slow", passing in the others; 0 where the glass is soft."""

    kind: str
    from_c: float
    to_c: float
    rate_k_h: float
    hold_min: float
    stress_pa: float
    is_by_kiln: bool


@dataclass(frozen=True)
class Programme:
    """Segments in order, temperatures that matter, and codes of what to beware of."""

    segments: list[Segment]
    soak_c: float
    garage_c: float
    open_c: float
    hours: float
    warnings: list[str]


def _at(vft: dict, log_eta: float) -> float:
    return vft["t0_c"] + vft["b"] / (log_eta - vft["a"])


def _log_eta(vft: dict, t_c: float) -> float:
    return vft["a"] + vft["b"] / (t_c - vft["t0_c"])


def stress_per_rate(shape: str, size_mm: float, alpha_1e7_k: float) -> float:
    """Pa at the surface per K/s of steady cooling: E α a² / (c κ (1 − ν))."""
    data = table("anneal")
    glass, half_m = data["glass"], size_mm / 2000.0
    return glass["youngs_modulus_pa"] * alpha_1e7_k * 1e-7 * half_m**2 / (data["shapes"][shape]["c"] * glass["diffusivity_m2_s"] * (1.0 - glass["poisson"]))


def centre_less_surface_k(shape: str, size_mm: float, rate_k_s: float) -> float:
    """K between centre and surface in steady cooling: q a² / (2 κ), (4 κ), (6 κ) for slab, cylinder, sphere."""
    data = table("anneal")
    return rate_k_s * (size_mm / 2000.0) ** 2 / (2.0 * data["shapes"][shape]["n"] * data["glass"]["diffusivity_m2_s"])


def open_at_c(shape: str, size_mm: float, alpha_1e7_k: float, factor: float) -> float:
    """Where a kiln may be opened: cooling in the room's air then means no more than the passing tension allowed. σ = E α n h (T − room) a / (c (1 − ν) k)."""
    data = table("anneal")
    glass, one = data["glass"], data["shapes"][shape]
    per_k = glass["youngs_modulus_pa"] * alpha_1e7_k * 1e-7 * one["n"] * data["open_w_m2k"] * size_mm / 2000.0 / (one["c"] * (1.0 - glass["poisson"]) * glass["conductivity_w_mk"])
    return data["room_c"] + data["temporary_pa"] / factor / per_k


def _soak(glasses: list[Glass], size_mm: float) -> tuple[float, float, list[str]]:
    """(°C, minutes, warnings): at the annealing point of the stiffest, a little above since it is estimated, unless another would lose its shape there."""
    rule, warnings = table("anneal")["soak"], []
    stiffest = max(glasses, key=lambda one: one.annealing_c)
    wanted = stiffest.annealing_c + rule["above_estimate_k"]
    soft = min(_at(one.vft, rule["holds_shape_log"]) for one in glasses)
    minutes = min(rule["most_min"], max(rule["least_min"] if len(glasses) == 1 else rule["mixed_min"], rule["min_per_mm"] * size_mm))
    if wanted <= soft:
        return wanted, minutes, warnings
    longer = 10.0 ** max(0.0, _log_eta(stiffest.vft, soft) - rule["relieves_log"])
    if minutes * longer > rule["most_shared_min"]:
        return soft, rule["most_shared_min"], ["no_shared_soak"]
    return soft, minutes * longer, ["long_shared_soak" if longer > 1.0 else "low_shared_soak"]


def _checked(glasses: list[Glass], piece: Piece, wish: Wish) -> None:
    if not glasses:
        raise Refused("Choose a glass.", code="no_glass")
    if not 0.5 <= piece.size_mm <= 200.0:
        raise Refused("Sizes from 0.5 to 200 mm can be reckoned.", code="size")
    if not (1.0 <= wish.kiln_heats_k_h <= 10_000.0 and 1.0 <= wish.kiln_cools_k_h <= 10_000.0):
        raise Refused("The kiln's rates lie from 1 to 10,000 K an hour.", code="kiln")
    data = table("anneal")
    if wish.peak_c is not None and not (wish.peak_c <= data["most_peak_c"] and wish.peak_min <= data["most_peak_min"]):
        raise Refused(f"Peaks up to {data['most_peak_c']} °C, held for {data['most_peak_min']} minutes at most, can be reckoned.", code="peak")


def _as_thick(piece: Piece) -> Piece:
    """The piece as thick as it counts: a shelf keeps one face hot."""
    return replace(piece, size_mm=piece.size_mm * table("anneal")["shapes"][piece.shape].get("thick", 1))


def programme(glasses: list[Glass], piece: Piece, wish: Wish) -> Programme:
    """What to tell the kiln. Raises Refused."""
    _checked(glasses, piece, wish)
    data, piece = table("anneal"), _as_thick(piece)
    alphas = [one.alpha_1e7_k for one in glasses if one.alpha_1e7_k is not None]
    alpha = max(alphas, default=data["glass"]["alpha_1e7_k"])
    factor, per_rate = data["care"][wish.care]["factor"], stress_per_rate(piece.shape, piece.size_mm, alpha) / K_H
    soak_c, minutes, warnings = _soak(glasses, piece.size_mm)
    warnings += [] if len(alphas) == len(glasses) else ["no_expansion"]
    garage_c = min(soak_c, min(_at(one.vft, data["soak"]["garage_log"]) for one in glasses))
    if wish.peak_c is not None and wish.peak_c <= soak_c:
        raise Refused(f"The peak lies below the soak at {soak_c:.0f} °C. Give a hotter one, or none.", code="peak")
    passing = data["temporary_pa"] / factor / per_rate
    slow = data["aims"][wish.aim]["stress_pa"] / data["structural"] / factor / per_rate
    end_c = min(one.strain_c for one in glasses) - data["soak"]["below_strain_k"]
    room = data["room_c"]
    top = wish.peak_c if wish.peak_c is not None else soak_c
    start = garage_c if wish.is_garaged else room

    def line(kind: str, here: float, there: float, limit: float, kiln: float, hold: float, stress: float) -> Segment:
        rate = min(limit, kiln)
        return Segment(kind, here, there, rate, hold, stress * rate * per_rate, kiln < limit)

    heats, cools = wish.kiln_heats_k_h, wish.kiln_cools_k_h
    segments = [line("heat", start, top, passing, heats, minutes if wish.peak_c is None else wish.peak_min, 0.0 if wish.is_garaged else 1.0)]
    if wish.peak_c is not None:
        segments.append(replace(line("down", top, soak_c, cools, cools, minutes, 0.0), is_by_kiln=True))
    segments.append(line("slow", soak_c, end_c, slow, cools, 0.0, data["structural"]))
    segments.append(line("fast", end_c, room, min(passing, data["faster"] * slow), cools, 0.0, 1.0))
    hours = sum(abs(s.to_c - s.from_c) / s.rate_k_h + s.hold_min / 60.0 for s in segments)
    return Programme(segments, soak_c, garage_c, min(end_c, open_at_c(piece.shape, piece.size_mm, alpha, factor)), hours, warnings)
