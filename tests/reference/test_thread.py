"""The bow of a thread of two glasses: its section sliced, its arc drawn, its weight solved, and the printed rows E06 and E07.

The sections are summed slice by slice; the arc is a circle's; the sag is the elastic line integrated. Printed rows: physics-checks.csv,
section E of the physics groundwork; the factors at unequal shares are printed there too.
"""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import cumulative_trapezoid
from scipy.optimize import brentq

from server.physics import seal, thread

MM = 1e-3


def sliced_factor(share, n=200_001):
    """curvature × d / Δε of a disc of diameter 1 whose outer slices, `share` of the area, contract: no net force, no net moment."""
    y = np.linspace(-0.5, 0.5, n)
    width = 2 * np.sqrt(np.maximum(0.25 - y**2, 0.0))
    area = cumulative_trapezoid(width, y, initial=0.0)
    contracts = (area <= share * area[-1]).astype(float)
    moment = [[width.sum(), (width * y).sum()], [(width * y).sum(), (width * y**2).sum()]]
    mean, slope = np.linalg.solve(moment, [(width * -contracts).sum(), (width * y * -contracts).sum()])
    return slope


@pytest.mark.parametrize("share", [0.1, 0.2, 0.3, 0.4, 0.5, 0.63, 0.9])
def test_factor_against_slices(share):
    assert float(thread.factor(share)) == pytest.approx(sliced_factor(share), rel=1e-3)


def test_printed_factors():
    assert float(thread.factor(0.5)) == pytest.approx(1.69765, abs=1e-5)  # E06
    assert np.round(thread.factor([0.4, 0.3, 0.2, 0.1]), 2) == pytest.approx([1.63, 1.44, 1.12, 0.65])


def test_e07_printed_bow():
    assert float(thread.misfit(4.07437 * MM, 1 * MM, 200 * MM)) == pytest.approx(4.8e-4, rel=1e-5)
    assert float(thread.misfit(1 * MM, 1 * MM, 200 * MM)) == pytest.approx(118e-6, rel=0.005)  # 1 mm of bow ≈ 118 ppm
    assert float(thread.misfit(2 * MM, 1 * MM, 200 * MM)) == pytest.approx(float(seal.misfit_of_bow(2 * MM, 1 * MM, 200 * MM)))


def test_bow_of_a_true_arc():
    """A circle's arc over a straight length of 200 mm, radius from the misfit: the rule of small bows holds to 0.1 %."""
    radius = 1 * MM / (sliced_factor(0.5) * 4.8e-4)
    bow = radius - np.sqrt(radius**2 - (100 * MM) ** 2)
    assert float(thread.misfit(bow, 1 * MM, 200 * MM)) == pytest.approx(4.8e-4, rel=2e-3)


def test_own_weight_by_the_elastic_line():
    """E I y'' = M(x) integrated twice between two supports; 0.12 mm for 1 mm on 200 mm (section E)."""
    d, length, e = 1 * MM, 200 * MM, 70e9
    x = np.linspace(0, length, 20_001)
    w = 2500 * 9.80665 * np.pi * d**2 / 4
    bend = w * x * (length - x) / 2 / (e * np.pi * d**4 / 64)
    slope = cumulative_trapezoid(bend, x, initial=0.0)
    line = cumulative_trapezoid(slope, x, initial=0.0)
    deepest = (line - line[-1] * x / length).min()
    assert float(thread.sag(d, length, e)) == pytest.approx(-deepest, rel=1e-5)
    assert float(thread.sag(d, length, e)) == pytest.approx(0.12 * MM, abs=0.005 * MM)


@given(st.floats(-4e-4, 4e-4), st.floats(0.5, 2), st.floats(100, 400))
def test_turning_over_takes_out_the_weight(strain, thick_mm, length_mm):
    """On two supports with A above the rise is −bow − sag, turned over bow − sag: half the difference is the bow."""
    bow = float(seal.thread_bow_m(strain, thick_mm * MM, length_mm * MM))
    weight = float(thread.sag(thick_mm * MM, length_mm * MM, 70e9))
    a_above, a_below = -bow - weight, bow - weight
    assert float(thread.misfit((a_below - a_above) / 2, thick_mm * MM, length_mm * MM)) == pytest.approx(strain, abs=1e-12)


def threads(bows_mm, share=0.5, sd_mm=0.2, share_u=0.1):
    n = len(bows_mm)
    return thread.Threads(np.array(bows_mm) * MM, np.full(n, sd_mm * MM), np.full(n, 1 * MM), np.full(n, 200 * MM), np.full(n, share), np.full(n, share_u))


BOWS = st.lists(st.floats(-8, 8), min_size=1, max_size=6)


@given(BOWS, st.randoms())
def test_order_of_threads_is_nothing_and_sides_swap(bows, order):
    made = thread.mean_misfit(threads(bows))
    mixed = list(bows)
    order.shuffle(mixed)
    assert thread.mean_misfit(threads(mixed)) == pytest.approx(made, rel=1e-9, abs=1e-15)
    mirrored = thread.mean_misfit(threads([-x for x in bows]))
    assert mirrored == pytest.approx({**made, "value": -made["value"]}, rel=1e-9, abs=1e-15)


@given(st.floats(0.05, 0.95))
def test_a_share_and_its_rest_bend_alike(share):
    assert float(thread.factor(share)) == pytest.approx(float(thread.factor(1 - share)), rel=1e-9)
    assert float(thread.factor(share)) <= float(thread.factor(0.5)) + 1e-12


@pytest.mark.parametrize("n", [1, 2, 3, 6])
@pytest.mark.parametrize(("bend_mm", "at_least"), [(0.25, 0.94), (0.5, 0.93), (0.9, 0.83)])
def test_intervals_hold_what_they_promise(n, bend_mm, at_least):
    """Threads drawn at random: bent by the pull as assumed, half and nearly twice as much, halves unequal, readings off."""
    rng, held, runs = np.random.default_rng(11), 0, 600
    for _ in range(runs):
        f = thread.factor(rng.uniform(0.4, 0.5))
        bows = 2e-4 * f * 0.2**2 / (8 * 1 * MM) / MM + rng.normal(0, bend_mm, n) + rng.normal(0, 0.2, n)
        made = thread.mean_misfit(threads(bows))
        held += abs(made["value"] - 2e-4) < made["u95"]
    assert held / runs >= at_least


def test_worked_difference_of_the_trade_notes():
    """d 1.00 mm, L 200 mm, s 4.24 mm, 500 K: 10.0 points, with the other sign if it bends to the other glass (worked example, same statics)."""
    made = thread.expansion_difference(thread.mean_misfit(threads([4.24] * 3)), 520.0, 15.0)
    assert made["value"] == pytest.approx(10.0, abs=0.05)
    assert thread.expansion_difference(thread.mean_misfit(threads([-4.24] * 3)), 520.0, 15.0)["value"] == pytest.approx(-made["value"])
    wide = thread.expansion_difference(thread.mean_misfit(threads([4.24] * 3)), 520.0, 60.0)
    assert wide["u"] > made["u"] > 0.3  # 15 of 500 K is 3 %


def test_segment_angle_against_a_root_finder():
    for share in (0.07, 0.5, 0.81):
        found = brentq(lambda phi, share=share: phi - np.sin(phi) * np.cos(phi) - np.pi * share, 0, np.pi)
        assert float(thread.half_angle(share)) == pytest.approx(found, abs=1e-10)


@pytest.mark.parametrize("share", [0.02, 0.1, 0.3, 0.5])
def test_curvature_of_a_large_bow_is_that_of_its_circle(share):
    """A circle drawn through the ends and the middle: its radius by three points, against 8 s / (L² + 4 s²)."""
    length, s = 200 * MM, share * 200 * MM
    (ax, ay), (bx, by), (cx, cy) = (0, 0), (length / 2, s), (length, 0)
    area = abs((bx - ax) * (cy - ay) - (cx - ax) * (by - ay)) / 2
    sides = np.hypot(bx - ax, by - ay) * np.hypot(cx - bx, cy - by) * np.hypot(cx - ax, cy - ay)
    strain = float(thread.misfit(thread.small_bow(s, length), 1 * MM, length))
    assert strain * float(thread.factor(0.5)) / (1 * MM) == pytest.approx(4 * area / sides, rel=1e-9)
    step = 1e-7
    slope = (thread.small_bow(s + step, length) - thread.small_bow(s - step, length)) / (2 * step)
    assert float(thread.per_bow(s, length)) == pytest.approx(float(slope), abs=1e-6)


@pytest.mark.parametrize("n", [3, 6])
def test_a_weight_that_all_threads_share_is_within_the_interval(n):
    """Threads lying one way, all lowered by one and the same share of a sag of 0.5 mm: more threads do not take it out."""
    rng, held, runs = np.random.default_rng(12), 0, 600
    for _ in range(runs):
        f = thread.factor(0.5)
        bows = 2e-4 * f * 0.2**2 / (8 * 1 * MM) / MM + rng.normal(0, 0.3, n) + rng.normal(0, 0.2, n) + rng.uniform(-0.5, 0.5)
        plain = threads(bows)
        made = thread.mean_misfit(thread.Threads(**{**plain.__dict__, "weight_sd": np.full(n, 0.5 * MM / 3**0.5)}))
        held += abs(made["value"] - 2e-4) < made["u95"]
    assert held / runs >= 0.95
    assert thread.mean_misfit(plain)["u95"] < made["u95"]
