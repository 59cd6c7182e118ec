"""Pull test: chips fused end to end into a rod, drawn thinner by one force; the ratio of viscosities from how much each thinned.

Followed with the glass, F = −3 η dA/dt at every cross-section, so A before − A after = ∫F dt / 3η, and for one heat
η_a / η_b = (before_b² − after_b²) / (before_a² − after_a²), whatever the force did. A heat that changes evenly along the rod adds
a straight line to ln of the drop; least squares on glass and place takes it out (for A-B-A: the geometric mean of the outer two).
Diameters in mm, chips as arrays (n,). Constants: data/pull.json.
"""

from dataclasses import dataclass

import numpy as np

from server.physics.few import ONE_SIDED95, half_widths, leaning_variance
from server.physics.table import table


@dataclass(frozen=True)
class Chips:
    """Chips along a rod: glass letters, places along it (in chips), diameters in mm and one standard deviation of each."""

    letters: tuple[str, ...]
    place: np.ndarray
    before_mm: np.ndarray
    after_mm: np.ndarray
    before_sd_mm: np.ndarray
    after_sd_mm: np.ndarray

    def of(self, letter: str) -> np.ndarray:
        """Mask (n,) of the chips of one glass."""
        return np.array([each == letter for each in self.letters])


@dataclass(frozen=True)
class Fit:
    """ln of each glass's viscosity but for one common amount, and how it was found.

    weights (glasses, n) are those by which ln of the drops enter (with a minus: less drop is stiffer); reading and heat are
    variances (n,) and one variance; has_line tells whether an even change of heat along the rod was taken out; line is that
    change in ln of viscosity per chip, 0.0 where it was not. slant (n,) is one standard deviation of ln viscosity at each chip
    from a change that the chips could not show: weights that sum it to nothing, as those of A-B-A do, are free of it.
    """

    glasses: tuple[str, ...]
    ln_stiff: np.ndarray
    weights: np.ndarray
    reading: np.ndarray
    heat: float
    heat_dof: float
    has_line: bool
    line: float
    slant: np.ndarray


def _slant(chips: Chips, slope_per_k: float) -> np.ndarray:
    """ln of viscosity (n,) that a usual, unseen change of heat along the rod adds, from the rod's middle."""
    return table("pull")["gradient"]["sd_k_per_chip"] * slope_per_k * (chips.place - chips.place.mean())


def thinned(before_mm, after_mm):
    """Share of the diameter that was lost."""
    return 1.0 - np.asarray(after_mm) / before_mm


def ratio_of_pair(before_a_mm, after_a_mm, before_b_mm, after_b_mm):
    """η_a / η_b of one chip of each in one rod at one heat."""
    return (before_b_mm**2 - after_b_mm**2) / (before_a_mm**2 - after_a_mm**2)


def ln_drop_variance(chips: Chips) -> np.ndarray:
    """Variance (n,) of ln(before² − after²) from the readings."""
    drop = chips.before_mm**2 - chips.after_mm**2
    return 4.0 * ((chips.before_mm * chips.before_sd_mm) ** 2 + (chips.after_mm * chips.after_sd_mm) ** 2) / drop**2


def _design(chips: Chips, glasses: tuple[str, ...]) -> tuple[np.ndarray, bool]:
    """(matrix (n, glasses [+ 1]), whether its last column, place along the rod, could be told from the glasses)."""
    columns = np.array([chips.of(glass) for glass in glasses], dtype=float).T
    with_line = np.column_stack([columns, chips.place - chips.place.mean()])
    has_line = np.linalg.matrix_rank(with_line) == with_line.shape[1]
    return (with_line if has_line else columns), bool(has_line)


def _gain(design: np.ndarray, variance: np.ndarray) -> np.ndarray:
    """Weights (columns, n) of weighted least squares."""
    weighted = design / variance[:, None]
    return np.linalg.solve(design.T @ weighted, weighted.T)


def fit(chips: Chips, slope_per_k: float) -> Fit:
    """Viscosities of the rod's glasses relative to each other. Every chip must have thinned. slope_per_k: of ln viscosity, 1/K, for uneven heat."""
    rule = table("pull")["heat"]
    glasses = tuple(sorted(set(chips.letters)))
    design, has_line = _design(chips, glasses)
    ln_drop, reading = np.log(chips.before_mm**2 - chips.after_mm**2), ln_drop_variance(chips)
    usual = (rule["sd_k"] * slope_per_k) ** 2
    first = _gain(design, reading + usual)
    hat = design @ first
    left = ln_drop - hat @ ln_drop
    from_reading = ((np.eye(len(left)) - hat) ** 2 @ reading).sum()
    squares = max(0.0, float(left @ left - from_reading))
    heat, dof = leaning_variance(squares, len(left) - design.shape[1], usual, rule["dof"])
    gain = _gain(design, reading + heat)
    found = gain @ ln_drop
    return Fit(glasses, -found[: len(glasses)], gain[: len(glasses)], reading, heat, dof, has_line, -float(found[-1]) if has_line else 0.0, _slant(chips, slope_per_k))


def _variances(found: Fit, a: str, b: str) -> tuple[float, float, float]:
    """Variances of ln(η_a / η_b) from the calliper, from heat that differs at random, and from heat that rises along the rod unseen."""
    i, j = found.glasses.index(a), found.glasses.index(b)
    weight = found.weights[i] - found.weights[j]
    return float(weight**2 @ found.reading), float((weight**2).sum() * found.heat), float((weight @ found.slant) ** 2)


def ln_ratio(found: Fit, a: str, b: str) -> tuple[float, float, float]:
    """(ln of η_a / η_b, half-width that holds 68 of 100, the same for 95). Degrees of freedom after Welch and Satterthwaite."""
    i, j = found.glasses.index(a), found.glasses.index(b)
    parts = _variances(found, a, b)
    total = sum(parts)
    dof = found.heat_dof * (total / parts[1]) ** 2
    return float(found.ln_stiff[i] - found.ln_stiff[j]), *half_widths(float(np.sqrt(total)), float(dof))


def reading_share(found: Fit, a: str, b: str) -> float:
    """Share of the variance of ln ratio that comes from the calliper; the rest is uneven heat."""
    parts = _variances(found, a, b)
    return parts[0] / sum(parts)


def at_least_ln(chips: Chips, stiff: str, soft: str, slope_per_k: float) -> float:
    """Below this ln(η_stiff / η_soft) lies with a chance of 5 in 100, where the stiff glass hardly thinned. May be negative, -inf where nothing is told.

    Fieller's bound: the greatest x = drop_soft / ratio that still agrees with the stiff chips' mean drop (its reading σ) when x itself
    is known to the share √v (reading of the soft chips, uneven heat, heat rising along the rod): (x − drop)² = 1.645² (v x² + σ²).
    """
    drop = chips.before_mm**2 - chips.after_mm**2
    sd = 2.0 * np.hypot(chips.before_mm * chips.before_sd_mm, chips.after_mm * chips.after_sd_mm)
    s, r, slant = chips.of(stiff), chips.of(soft), _slant(chips, slope_per_k)
    heat = (table("pull")["heat"]["sd_k"] * slope_per_k) ** 2
    share = np.inf if (drop[r] <= 0).any() else ((sd[r] / drop[r]) ** 2 + heat).sum() / r.sum() ** 2 + heat / s.sum() + (slant[s].mean() - slant[r].mean()) ** 2
    left = 1.0 - ONE_SIDED95**2 * share
    if left <= 0:
        return -np.inf
    mean, variance = max(0.0, drop[s].mean()), (sd[s] ** 2).sum() / s.sum() ** 2
    most = (mean + np.sqrt(mean**2 - left * (mean**2 - ONE_SIDED95**2 * variance))) / left
    return float(np.log(drop[r]).mean() - np.log(most))
