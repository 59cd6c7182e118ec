"""How alike two glasses work: differences of working properties with their intervals, verdicts, and what would settle them.

Criteria, margins, the rule of the verdict and the resolution of each test are data (data/alike.json). Vectorised.
"""

from dataclasses import dataclass

import numpy as np

from server.physics.accuracy import pair_factors
from server.physics.chance import within
from server.physics.composition import OXIDES
from server.physics.table import table

CRITERIA = tuple(c["key"] for c in table("alike")["criteria"])
DEFAULT_MARGINS = np.array([c["margin"] for c in table("alike")["criteria"]], dtype=float)
ALIKE, DIFFERS, UNSURE = range(3)
VERDICTS = ("alike", "differs", "cannot say yet")
_UPPER, _LOWER = 7.6 - 4.0, 13.0 - 7.6


@dataclass
class Working:
    """Working properties of n glasses, each (criteria, n): value, u (68 %) and u95. NaN where there is no estimate. mol (n, oxides).

    Softening and working point in °C, width of the range in K, steepness as 100 ln of the slope (decades per K), expansion in 1e-7/K.
    """

    value: np.ndarray
    u: np.ndarray
    u95: np.ndarray
    mol: np.ndarray

    def at(self, index) -> "Working":
        """The glasses of an index or mask, still (criteria, m)."""
        return Working(self.value[:, index], self.u[:, index], self.u95[:, index], self.mol[index])


@dataclass
class Comparison:
    """Second glasses less the first, each (criteria, n): difference, its u and u95, the verdict, and the chance to lie inside the margin."""

    difference: np.ndarray
    u: np.ndarray
    u95: np.ndarray
    verdict: np.ndarray
    chance: np.ndarray


def slope_at_softening(upper_k, lower_k):
    """Steepness of the VFT curve at log10(dPa·s) = 7.6, in decades per K, falling slopes counted positive.

    upper_k, lower_k : widths in K from softening (7.6) to working (4) and from annealing (13) to softening, arrays or floats
    source           : derived from log eta = a + b/(T - t0); with x = 7.6 - a the slope is 3.6 x / (upper_k (x - 3.6))
    """
    ratio = upper_k * _LOWER / (lower_k * _UPPER)
    x = (_LOWER + ratio * _UPPER) / (ratio - 1.0)
    return _UPPER * x / (upper_k * (x - _UPPER))


def _steepness(upper, lower, u_upper, u_lower) -> tuple[np.ndarray, np.ndarray]:
    """(100 ln slope, its half-width) with the half-widths of the two widths in K carried through."""
    step_k = 0.1

    def value(up, low):
        return 100.0 * np.log(slope_at_softening(up, low))

    by_upper = (value(upper + step_k, lower) - value(upper - step_k, lower)) / (2 * step_k)
    by_lower = (value(upper, lower + step_k) - value(upper, lower - step_k)) / (2 * step_k)
    return value(upper, lower), np.hypot(by_upper * u_upper, by_lower * u_lower)


def working(reports: list[dict]) -> Working:
    """Working properties of n estimates, from their reports (report.py)."""
    raw = np.array([_raw(made) for made in reports], dtype=float).reshape(len(reports), 5, 3).transpose(1, 2, 0)
    softening, working_point, annealing, width, expansion = raw
    lower = softening[0] - annealing[0]
    steep, u = _steepness(width[0], lower, width[1], np.hypot(softening[1], annealing[1]))
    _same, u95 = _steepness(width[0], lower, width[2], np.hypot(softening[2], annealing[2]))
    made = np.array([softening, working_point, width, [steep, u, u95], expansion])
    return Working(made[:, 0], made[:, 1], made[:, 2], mol_of(reports))


def mol_of(reports: list[dict]) -> np.ndarray:
    """mol% by OXIDES of n estimates, shape (n, oxides), from their reports."""
    return np.array([[made["mol"].get(name, 0.0) for name in OXIDES] for made in reports]).reshape(len(reports), len(OXIDES))


def distance_mol(first: np.ndarray, second: np.ndarray) -> np.ndarray:
    """How far apart glasses lie, shape (n,): root of the summed squares of their differences in mol% (n, oxides)."""
    return np.sqrt(((second - first) ** 2).sum(axis=1))


def _raw(made: dict) -> list[list[float]]:
    """[value, u, u95] of softening, working, annealing, width and expansion of one report."""
    nothing = [np.nan] * 3
    points, alpha = made["points"], made["alpha"]
    found = [[points[k]["t_c"], points[k]["u_k"], points[k]["u95_k"]] if points else nothing for k in ("softening", "working", "annealing")]
    wide = [made["range"]["width_k"], _or_nan(made["range"]["u_k"]), _or_nan(made["range"]["u95_k"])] if points else nothing
    return [*found, wide, [alpha["value_1e7_k"], alpha["u_1e7_k"], alpha["u95_1e7_k"]] if alpha else nothing]


def _or_nan(value: float | None) -> float:
    return np.nan if value is None else value


def compare(first: Working, second: Working, margins: np.ndarray) -> Comparison:
    """Second less first, with verdicts against margins (criteria,) in each criterion's unit.

    first and second are (criteria, n), or (criteria, 1) against (criteria, n). Half-widths add as squares, times what pairs of measured
    glasses as far apart showed (alike.json, differences); no pair of steepness was measured, so it takes that of the width.
    """
    difference = second.value - first.value
    distance = distance_mol(first.mol, second.mol)
    factors = np.array([pair_factors(c["counted_as"], distance) for c in table("alike")["criteria"]])
    u, u95 = factors[:, 0] * np.hypot(first.u, second.u), factors[:, 1] * np.hypot(first.u95, second.u95)
    margin = margins[:, None]
    return Comparison(difference, u, u95, verdicts(difference, u95, margin), within(margin, difference, u, u95))


def verdicts(difference, u95, margin) -> np.ndarray:
    """ALIKE where the interval lies within ±margin, its ends included; DIFFERS where all of it lies beyond; else UNSURE. NaN is UNSURE."""
    size = np.abs(difference)
    return np.where(size + u95 <= margin, ALIKE, np.where(size - u95 > margin, DIFFERS, UNSURE))


def expected_miss(made: Comparison, margins: np.ndarray) -> np.ndarray:
    """Root mean square over the criteria of (difference and u) ÷ margin, shape (n,): small is alike. NaN where a criterion is missing."""
    each = np.hypot(made.difference, made.u) / margins[:, None]
    return np.sqrt(np.mean(each**2, axis=0))


def settling(criterion: str, difference: float, margin: float) -> dict:
    """What measurement would settle an unsure criterion, should the best guess hold.

    returns : need95, the half-width (95 %) that a measured difference must have; and the tests, each with its own and whether it is enough.
    """
    need = abs(margin - abs(difference))
    tests = [t for t in table("alike")["tests"] if t["of"] == criterion]
    made = [{**t, "half95": float(np.hypot(t["u95"], t["share95"] * difference))} for t in tests]
    return {"need95": need, "tests": [{**t, "is_enough": t["half95"] <= need} for t in made]}
