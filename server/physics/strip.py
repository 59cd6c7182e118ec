"""Strip test: strips of known expansion melted onto a piece, and the range of expansion that all of them and its analysis leave open.

A likelihood on a grid of the piece's expansion (1e-7/K): what the eye called the light at each joint is an interval of retardation
C · E · |Δε| · path · k with soft edges, cracked or not a soft threshold of |Δε|, the pulled side its sign (the higher expansion is in
tension). k, how much of E Δε the light meets, is unsure but the same for all strips and is summed over. Limits: data/strip.json.
"""

from dataclasses import dataclass
from functools import cache, lru_cache

import numpy as np

from server.physics.chance import phi
from server.physics.few import SHARE68, t_half_width, t_of_half_widths
from server.physics.seal import PER_1E7, PPM
from server.physics.table import table

NM = 1e9
NONE = -1


@dataclass(frozen=True)
class Strips:
    """Strips as read, arrays (n,): expansion and its ± in 1e-7/K; halo an index into the words or NONE; cracked 1, 0 or NONE;
    pulls +1 where the piece is in tension, -1 the strip, 0 where nobody can tell."""

    alpha: np.ndarray
    alpha_u: np.ndarray
    halo: np.ndarray
    cracked: np.ndarray
    pulls: np.ndarray

    def without(self, j: int) -> "Strips":
        keep = np.arange(len(self.alpha)) != j
        return Strips(*(part[keep] for part in (self.alpha, self.alpha_u, self.halo, self.cracked, self.pulls)))


@dataclass(frozen=True)
class Bench:
    """How it was looked at: light path in m, stress-optic coefficient in 1/Pa (None: no reading), E in Pa, K from room to set point, plate or not, and how far those K may be off."""

    path_m: float
    c_per_pa: float | None
    e_pa: float
    span_k: float
    has_plate: bool
    span_u_k: float = 0.0


@cache
def grid() -> np.ndarray:
    """Expansions of the piece that are tried, 1e-7/K."""
    rule = table("strip")["grid_1e7_per_k"]
    return np.arange(rule["from"], rule["to"] + rule["step"] / 2, rule["step"])


@cache
def _gaps() -> np.ndarray:
    """Differences piece − strip on which each reading's chance is tabled, 1e-7/K."""
    reach = table("strip")["grid_1e7_per_k"]
    return np.arange(-1.5 * reach["to"], 1.5 * reach["to"] + reach["step"] / 2, reach["step"])


def field(bench: Bench) -> np.ndarray:
    """The k that are summed over, (k,), evenly spread on a log scale; what the set point may be off is one more cause of the same kind."""
    rule, share = table("strip")["field"], bench.span_u_k / bench.span_k
    return np.geomspace(rule["low"] * (1.0 - share), rule["high"] * (1.0 + share), rule["nodes"])


def retardation_nm(bench: Bench, gap_1e7, k=1.0):
    """nm of light at the joint for a difference of expansions in 1e-7/K, without its sign."""
    return bench.c_per_pa * bench.e_pa * np.abs(gap_1e7) * PER_1E7 * bench.span_k * bench.path_m * k * NM


def _below_edge(nm: np.ndarray, edge_nm: float) -> np.ndarray:
    """Chance that an eye puts nm below one of its limits."""
    with np.errstate(divide="ignore"):
        return phi((np.log(edge_nm) - np.log(nm)) / table("strip")["halo"]["edge_sd_ln"])


def halo_chance(nm: np.ndarray, word: int, has_plate: bool) -> np.ndarray:
    """Chance that light of so many nm is called by the word of that index; over all words they sum to 1."""
    rule = table("strip")["halo"]
    edges = [rule["none_with_plate_nm"] if has_plate else rule["up_to_nm"][0], *rule["up_to_nm"][1:]]
    upper = _below_edge(nm, edges[word]) if word < len(edges) else np.ones_like(nm)
    lower = _below_edge(nm, edges[word - 1]) if word > 0 else np.zeros_like(nm)
    return upper - lower


def crack_chance(strain: np.ndarray) -> np.ndarray:
    """Chance that a joint of this misfit strain cracks."""
    rule = table("strip")["crack"]
    with np.errstate(divide="ignore"):
        bare = phi(np.log(np.abs(strain) / PPM / rule["half_at_ppm"]) / rule["sd_ln"])
    return rule["by_mishap"] + (rule["never_above"] - rule["by_mishap"]) * bare


def pull_chance(gap: np.ndarray, nm: np.ndarray, side: int, has_plate: bool) -> np.ndarray:
    """Chance that the side (+1 piece, -1 strip) is named as the pulled one: right where the light is seen, even where it is not."""
    sure = table("strip")["pulls"]["right"] - 0.5
    seen = 1.0 - halo_chance(nm, 0, has_plate)
    return 0.5 + np.sign(gap) * side * sure * seen


@lru_cache(maxsize=512)
def _reading_chance(bench: Bench, k: float, halo: int, cracked: int, pulls: int) -> np.ndarray:
    """Chance of one strip's readings on _gaps(). A crack lets the stress go, so neither halo nor pulled side beside it is read."""
    gap = _gaps()
    chance = np.ones_like(gap)
    if cracked != NONE:
        cracks = crack_chance(gap * PER_1E7 * bench.span_k)
        chance = chance * (cracks if cracked == 1 else 1.0 - cracks)
    if bench.c_per_pa is None or cracked == 1:
        return chance
    nm = retardation_nm(bench, gap, k)
    if halo != NONE:
        chance = chance * halo_chance(nm, halo, bench.has_plate)
    return chance * pull_chance(gap, nm, pulls, bench.has_plate) if pulls else chance


def _blurred(chance: np.ndarray, sd_1e7: float) -> np.ndarray:
    """A table on _gaps() averaged over a normal error of the strip's expansion."""
    step = _gaps()[1] - _gaps()[0]
    reach = int(np.ceil(4.0 * sd_1e7 / step))
    weights = np.exp(-0.5 * (np.arange(-reach, reach + 1) * step / sd_1e7) ** 2)
    return np.convolve(np.pad(chance, reach, mode="edge"), weights / weights.sum(), mode="valid")


def likelihoods(strips: Strips, bench: Bench) -> np.ndarray:
    """(n, k, grid): chance of each strip's readings for each k and expansion of the piece; the strip's own ±, and what its expansion beyond 300 °C may add, are summed over."""
    made = np.empty((len(strips.alpha), len(field(bench)), len(grid())))
    doubt = np.hypot(strips.alpha_u, table("strip")["beyond_300_u_1e7_per_k"]["value"])
    for j in range(len(strips.alpha)):
        for i, k in enumerate(field(bench)):
            chance = _reading_chance(bench, k, int(strips.halo[j]), int(strips.cracked[j]), int(strips.pulls[j]))
            made[j, i] = np.interp(grid() - strips.alpha[j], _gaps(), _blurred(chance, doubt[j]))
    return made


def joint(each: np.ndarray) -> np.ndarray:
    """Likelihood (grid,) of all strips together, summed over k; its greatest is 1."""
    together = np.exp(np.log(np.maximum(each, 1e-300)).sum(axis=0)).mean(axis=0)
    return together / together.max()


def prior(value: float, u68: float, u95: float) -> np.ndarray:
    """Density (grid,) of an analysis's expansion with its two half-widths, without kinks: Student's t that has both; its greatest is 1."""
    dof = t_of_half_widths(u95 / u68)
    scale = u68 / t_half_width(SHARE68, dof)
    density = (1.0 + ((grid() - value) / scale) ** 2 / dof) ** (-(dof + 1.0) / 2.0)
    return density / density.max()


def real_glasses() -> np.ndarray:
    """Density (grid,) of the expansions that glasses have at all; its greatest is 1."""
    rule = table("strip")["glasses"]
    return np.exp(-0.5 * ((grid() - rule["value_1e7_per_k"]) / rule["sd_1e7_per_k"]) ** 2)


def _runs(inside: np.ndarray) -> list[tuple[float, float]]:
    """Stretches of the grid where a mask holds, as (from, to) in 1e-7/K, cell edge to cell edge; near ones as one."""
    steps = np.diff(np.concatenate([[0], inside.astype(int), [0]]))
    half = (grid()[1] - grid()[0]) / 2
    found: list[tuple[float, float]] = []
    for a, b in zip(np.flatnonzero(steps == 1), np.flatnonzero(steps == -1), strict=True):
        low, high = float(grid()[a] - half), float(grid()[b - 1] + half)
        is_near = bool(found) and low - found[-1][1] < table("strip")["join"]["below_1e7_per_k"]
        found = [*found[:-1], (found[-1][0], high)] if is_near else [*found, (low, high)]
    return found


def ruled_out(likelihood: np.ndarray) -> list[tuple[float, float]]:
    """The stretches (from, to) in 1e-7/K that the strips leave next to no chance, from low to high. Between two cracked strips far apart it may lie."""
    return _runs(likelihood < table("strip")["open_end"]["share"])


def agreement(each: np.ndarray) -> np.ndarray:
    """For each strip (n,), the best likelihood of all together ÷ (best of the others × best of this one): 1 in full agreement, 0 in none."""
    logs = np.log(np.maximum(each, 1e-300))
    total = logs.sum(axis=0)
    return np.array([np.exp(total.max() - (total - log).max() - log.max()) for log in logs])


def odd_strips(each: np.ndarray) -> list[int]:
    """Places of the strips that do not fit the others."""
    return [int(j) for j in np.flatnonzero(agreement(each) < table("strip")["odd"]["below"])] if len(each) > 1 else []


def fits(likelihood: np.ndarray, density: np.ndarray) -> bool:
    """Whether an analysis agrees with the strips; both with their greatest at 1."""
    return bool((likelihood * density).max() >= table("strip")["odd"]["below"])


def open_ends(likelihood: np.ndarray) -> tuple[bool, bool]:
    """Whether the strips leave it open how low, and how high, the expansion may be."""
    share = table("strip")["open_end"]["share"]
    return bool(likelihood[0] >= share), bool(likelihood[-1] >= share)


def nearest_end(likelihood: np.ndarray, at_high: bool) -> float:
    """The expansion in 1e-7/K that an open answer still leaves nearest: at least this (at_high), or at most."""
    possible = grid()[likelihood >= table("strip")["open_end"]["share"]]
    return float(possible[0] if at_high else possible[-1])


def regions(density: np.ndarray, share: float) -> list[tuple[float, float]]:
    """The smallest set of expansions that holds `share` of the density, as (from, to) in 1e-7/K, from low to high; near ones as one."""
    order = np.argsort(-density, kind="stable")
    held = np.cumsum(density[order]) / density.sum()
    inside = np.zeros(len(density), dtype=bool)
    inside[order[: int(np.searchsorted(held, share)) + 1]] = True
    return _runs(inside)


def middle(density: np.ndarray) -> float:
    """The expansion in 1e-7/K below and above which the density holds as much; the likeliest where the density has two hills."""
    if len(regions(density, 0.68)) > 1:
        return float(grid()[int(np.argmax(density))])
    held = np.concatenate([[0.0], np.cumsum(density) / density.sum()])
    half = (grid()[1] - grid()[0]) / 2
    return float(np.interp(0.5, held, np.concatenate([[grid()[0] - half], grid() + half])))
