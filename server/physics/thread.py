"""Thread test: two glasses drawn side by side bow when cold; the misfit strain and the difference of expansions from the bow.

A round thread whose section a straight joint parts, one stiffness: curvature = f Δε / d, f = (16/3π) sin³φ, where the share of glass A in
the section is (φ − sin φ cos φ)/π (moment of one segment about the middle over the section's second moment; 16/3π for halves).
A bow s on the straight length L has the curvature 8s/(L² + 4s²), as an arc has; a small one 8s/L², so Δε = 8 s d / (f L²), positive
where A lies inside and contracts more.

Turned over between two supports, the bow keeps its glass side while the thread's own weight, or a crooked table edge, adds to it one
time and takes from it the other: (s1 + s2)/2 is free of both. A bend kept from the pull turns over with the glass; no turning
removes it, only several threads do, so it is part of the scatter between them. Read one way only, the weight is in every thread alike:
it is added to the mean's doubt, not to the scatter. SI units. Constants: data/thread.json, data/seal.json.
"""

from dataclasses import dataclass

import numpy as np

from server.physics.few import half_widths, leaning_variance
from server.physics.seal import PER_1E7, THREAD
from server.physics.table import table


@dataclass(frozen=True)
class Threads:
    """Threads as read, arrays (n,): signed bow in m (positive: A inside), its standard deviation, thickness and length in m, share of A, its half range,
    and one standard deviation in m of what bends all threads alike: their weight, where they were read lying one way only."""

    bow: np.ndarray
    bow_sd: np.ndarray
    thickness: np.ndarray
    length: np.ndarray
    share_a: np.ndarray
    share_u: np.ndarray
    weight_sd: np.ndarray | float = 0.0


def half_angle(share):
    """φ in radians of a circle's segment that takes `share` (0 to 1) of its area, by halving."""
    share = np.asarray(share, dtype=float)
    low, high = np.zeros(share.shape), np.full(share.shape, np.pi)
    for _ in range(50):
        middle = (low + high) / 2.0
        small = middle - np.sin(middle) * np.cos(middle) < np.pi * share
        low, high = np.where(small, middle, low), np.where(small, high, middle)
    return (low + high) / 2.0


def factor(share):
    """f of curvature = f Δε / d; 16/3π at one half, the same for a share and its rest."""
    return THREAD * np.sin(half_angle(share)) ** 3


def small_bow(bow, length):
    """The bow in m by which a thread of this arc's curvature would rise were it flat: s / (1 + 4 s²/L²)."""
    return np.asarray(bow) / (1.0 + 4.0 * (np.asarray(bow) / length) ** 2)


def per_bow(bow, length):
    """How much the small bow grows with the bow as read."""
    square = 4.0 * (np.asarray(bow) / length) ** 2
    return (1.0 - square) / (1.0 + square) ** 2


def misfit(bow, thickness, length, share=0.5):
    """Misfit strain of a small bow; the bow's sign is kept. See small_bow for a large one."""
    return 8.0 * bow * thickness / (factor(share) * np.asarray(length) ** 2)


def sag(thickness, length, e_pa):
    """m by which a thread on two supports at its ends sags in the middle by its own weight: 5 w L⁴ / 384 E I of a round rod."""
    weight = table("thread")["density_kg_m3"]["value"] * table("slump")["gravity_m_s2"]
    return 5.0 / 24.0 * weight * np.asarray(length) ** 4 / (e_pa * np.asarray(thickness) ** 2)


def strains(threads: Threads) -> tuple[np.ndarray, np.ndarray]:
    """(misfit strain (n,), one standard deviation of it from reading bow, thickness and length)."""
    rule = table("thread")
    found = misfit(small_bow(threads.bow, threads.length), threads.thickness, threads.length, threads.share_a)
    by_bow = misfit(per_bow(threads.bow, threads.length), threads.thickness, threads.length, threads.share_a)
    share = np.hypot(rule["thickness_sd_mm"]["value"] * 1e-3 / threads.thickness, 2.0 * rule["length_sd_mm"]["value"] * 1e-3 / threads.length)
    return found, np.hypot(by_bow * threads.bow_sd, found * share)


def natural_bend(threads: Threads) -> np.ndarray:
    """Strain (n,) that a thread's usual bend from the pull would feign."""
    rule = table("thread")["natural_bend"]
    bow = rule["bow_mm"] * 1e-3 * (threads.length / (rule["on_mm"] * 1e-3)) ** 2
    return misfit(bow, threads.thickness, threads.length, threads.share_a)


def mean_misfit(threads: Threads) -> dict:
    """{value, u, u95, scatter_sd}: mean misfit strain with the half-widths that hold 68 and 95 of 100, and the scatter of one thread.

    Scatter between threads by Student's t, leaning on reading error and usual bend; the halves' shares and unlike stiffness and a weight read
    one way only, which all threads have in common, are added as squares.
    """
    rule = table("thread")
    found, reading = strains(threads)
    n, mean = len(found), float(found.mean())
    usual = float((reading**2 + natural_bend(threads) ** 2).mean())
    variance, dof = leaning_variance(float(((found - mean) ** 2).sum()), n - 1, usual, rule["natural_bend"]["dof"])
    variance = max(variance, float((reading**2).mean()))
    ends = [factor(np.clip(threads.share_a + sign * threads.share_u, 0.01, 0.99)) for sign in (-1, 1)]
    lowest = np.minimum(*ends) / factor(threads.share_a)
    by_share = float(np.abs(1.0 / np.minimum(lowest, 1.0) - 1.0).mean()) / 3**0.5
    by_weight = float(misfit(threads.weight_sd * per_bow(threads.bow, threads.length), threads.thickness, threads.length, threads.share_a).mean())
    common = float(np.hypot(by_weight, mean * np.hypot(by_share, rule["elastic_u_share"]["value"])))
    u, u95 = half_widths(float(np.sqrt(variance / n)), dof)
    return {"value": mean, "u": float(np.hypot(u, common)), "u95": float(np.hypot(u95, 2.0 * common)), "scatter_sd": float(np.sqrt(variance))}


def expansion_difference(strain: dict, set_c: float, set_u_k: float) -> dict:
    """{value, u, u95} in 1e-7/K: mean expansion of A less that of B from room to the set point, of a misfit {value, u, u95}."""
    span = set_c - table("seal")["room_c"]
    value = strain["value"] / span / PER_1E7
    widths = {name: float(np.hypot(strain[name] / span / PER_1E7, k * value * set_u_k / span)) for name, k in (("u", 1), ("u95", 2))}
    return {"value": value, **widths}
