"""The strip test: what the light is of, against stresses found by elements; and that its intervals hold on tests drawn at random.

Limits between words and the crack's threshold are common practice or judgement (data/strip.json) and cannot be checked against a
source; what is checked is that the sum keeps what those limits promise. Row E12: physics-checks.csv, section E of the groundwork.
"""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from server.physics import strip
from server.physics.strip import NONE, Bench, Strips

BENCH = Bench(3e-3, 2.7e-12, 70e9, 480.0, False)
PLATE = Bench(3e-3, 2.7e-12, 70e9, 480.0, True)


def test_e12_light_of_an_equal_strip():
    """Expansions 10 points apart over 480 K, half of E Δε at the joint, 5 mm: 226.8 nm."""
    assert strip.retardation_nm(Bench(5e-3, 2.7e-12, 70e9, 480.0, False), -10.0, 0.5) == pytest.approx(226.8, abs=0.01)


def test_rim_of_a_disc_let_in_by_elements():
    """A disc that contracts more, let through a wide plate in plane stress: round less radial stress at its rim is E Δε (k = 1), inside it nothing.

    Finite elements along the radius, plate twenty times as wide as the disc.
    """
    e, nu, strain = 70e9, 0.22, 2e-4
    edges = np.concatenate([np.linspace(0, 1, 201), np.geomspace(1, 20, 800)[1:]])
    mid, dr = (edges[1:] + edges[:-1]) / 2, np.diff(edges)
    law = e / (1 - nu**2) * np.array([[1, nu], [nu, 1]])
    stiff, load, rows = np.zeros((len(edges),) * 2), np.zeros(len(edges)), []
    for i in range(len(mid)):
        b = np.array([[-1 / dr[i], 1 / dr[i]], [0.5 / mid[i], 0.5 / mid[i]]])
        free = np.full(2, -strain if mid[i] < 1 else 0.0)
        stiff[i : i + 2, i : i + 2] += mid[i] * dr[i] * b.T @ law @ b
        load[i : i + 2] += mid[i] * dr[i] * b.T @ law @ free
        rows.append((b, free))
    u = np.zeros(len(edges))
    u[1:] = np.linalg.solve(stiff[1:, 1:], load[1:])
    stress = np.array([law @ (b @ u[i : i + 2] - free) for i, (b, free) in enumerate(rows)])
    difference = stress[:, 1] - stress[:, 0]
    rim = 200
    assert abs(difference[rim]) == pytest.approx(e * strain, rel=0.02)
    assert np.abs(difference[20:199]).max() < 0.01 * e * strain
    assert stress[100, 0] > 0  # the disc, of the higher expansion, is in tension


@given(st.floats(0, 1500), st.booleans())
def test_an_eye_says_one_of_its_words(nm, has_plate):
    chances = [strip.halo_chance(np.array([nm]), word, has_plate)[0] for word in range(5)]
    assert min(chances) >= -1e-12 and sum(chances) == pytest.approx(1.0)


def drawn(rng, truth, alphas, bench, k, plate_read=True):
    """Readings of strips on a piece of expansion `truth`, drawn word by word from what the sum assumes of an eye and a joint."""
    known = np.array([a + rng.normal(0, np.hypot(1.0, 2.0)) for a in alphas])
    gap = truth - known
    nm = strip.retardation_nm(bench, gap, k)
    cracked = rng.random(len(gap)) < strip.crack_chance(gap * 1e-7 * bench.span_k)
    words = [rng.choice(5, p=np.maximum([strip.halo_chance(np.array([x]), w, bench.has_plate)[0] for w in range(5)], 0)) for x in nm]
    right = rng.random(len(gap)) < strip.pull_chance(gap, nm, np.sign(gap), bench.has_plate)
    pulls = np.where(right, np.sign(gap), -np.sign(gap)).astype(int) if plate_read else np.zeros(len(gap), dtype=int)
    return Strips(np.array(alphas, dtype=float), np.full(len(alphas), 1.0), np.array(words), cracked.astype(int), pulls)


@pytest.mark.parametrize("plate_read", [True, False])
def test_intervals_hold_what_they_promise(plate_read):
    """Five strips five points apart, a piece anywhere between the outer two: 68 and 95 of 100; hardly any test is called a contradiction."""
    rng, n, in68, in95, odd = np.random.default_rng(4), 150, 0, 0, 0
    bench = PLATE if plate_read else BENCH
    for _ in range(n):
        truth = rng.uniform(82, 98)
        each = strip.likelihoods(drawn(rng, truth, [80, 85, 90, 95, 100], bench, np.exp(rng.uniform(np.log(0.5), np.log(1.5))), plate_read), bench)
        density = strip.joint(each)
        in68, in95 = (count + any(a <= truth <= b for a, b in strip.regions(density, share)) for count, share in ((in68, 0.68), (in95, 0.95)))
        odd += bool(strip.odd_strips(each))
    assert 0.60 <= in68 / n and 0.92 <= in95 / n <= 0.995
    assert odd / n <= 0.12


def strips(rows):
    """rows of (alpha, halo, cracked, pulls), each known to ± 1."""
    columns = list(zip(*rows, strict=True))
    return Strips(np.array(columns[0], dtype=float), np.full(len(rows), 1.0), *(np.array(c) for c in columns[1:]))


def density(rows, bench=PLATE):
    return strip.joint(strip.likelihoods(strips(rows), bench))


def width(rows, share=0.95):
    found = strip.regions(density(rows), share)
    return sum(b - a for a, b in found)


SCALE = [(85.0, 3, 0, 1), (90.0, 0, 0, 0), (95.0, 3, 0, -1)]


def test_a_piece_between_two_strips_lies_there():
    (low, high), = strip.regions(density(SCALE), 0.95)
    assert low < 90 < high and high - low < 8
    assert strip.middle(density(SCALE)) == pytest.approx(90, abs=0.5)
    assert strip.open_ends(density(SCALE)) == (False, False)


@given(st.sampled_from(range(3)), st.integers(2, 4))
@settings(max_examples=12, deadline=None)
def test_the_same_said_again_never_widens(which, times):
    """A strip that repeats another makes the answer no wider than it was."""
    assert width(SCALE + [SCALE[which]] * (times - 1)) <= width(SCALE) + 0.25


@given(st.floats(84, 96), st.integers(0, 3))
@settings(max_examples=20, deadline=None)
def test_mirrored_readings_mirror_the_answer(alpha, halo):
    """The same joint on the other side: pulls turned round, and strips mirrored about 110, the middle of the grid."""
    rows = [(alpha, halo, 0, 1), (alpha + 4, 2, 0, -1)]
    mirrored = [(220 - a, h, c, -p) for a, h, c, p in rows]
    assert density(mirrored)[::-1] == pytest.approx(density(rows), rel=1e-6, abs=1e-9)


def test_order_of_strips_is_nothing():
    assert density(SCALE[::-1]) == pytest.approx(density(SCALE), rel=1e-9)


def test_without_the_sign_there_are_two_answers():
    found = strip.regions(density([(90.0, 3, 0, 0)], BENCH), 0.68)
    assert len(found) == 2 and found[0][1] < 90 < found[1][0]
    (low, high), = strip.regions(density([(90.0, 3, 0, 1)], PLATE), 0.68)
    assert low > 90  # the piece is in tension: it expands more


def test_all_coloured_on_one_side_has_no_end():
    made = density([(80.0, 4, 0, 1), (90.0, 4, 0, 1)])
    assert strip.open_ends(made) == (False, True)
    assert strip.nearest_end(made, at_high=True) > 91


def test_a_crack_speaks_for_a_large_difference():
    whole, cracked = density([(90.0, NONE, 0, 1)]), density([(90.0, NONE, 1, 1)])
    far, near = np.searchsorted(strip.grid(), [110, 92])
    assert cracked[far] / cracked[near] > 5 and whole[far] / whole[near] < 0.2


def test_contradictions_are_seen():
    clear = strip.likelihoods(strips([(84.0, 0, 0, 0), (96.0, 0, 0, 0)]), PLATE)
    assert strip.odd_strips(clear) == [0, 1]
    assert strip.odd_strips(strip.likelihoods(strips(SCALE), PLATE)) == []
    one_odd = strip.likelihoods(strips([*SCALE, (104.0, 0, 0, 0)]), PLATE)
    assert 3 in strip.odd_strips(one_odd)
    made = density(SCALE)
    assert strip.fits(made, strip.prior(92.0, 3.0, 6.0)) and not strip.fits(made, strip.prior(110.0, 3.0, 6.0))


def test_prior_holds_its_half_widths():
    made = strip.prior(90.0, 4.0, 10.0)
    inside = [made[np.abs(strip.grid() - 90) <= w].sum() / made.sum() for w in (4.0, 10.0)]
    assert inside == pytest.approx([0.68, 0.95], abs=0.03)


@pytest.mark.parametrize(("u68", "u95"), [(4.8, 15.9), (3.0, 6.0), (5.0, 20.0)])
def test_prior_is_students_t_without_a_kink(u68, u95):
    """Against scipy's t with the same half-widths: no step of the slope where the kinked one had it, and one hill."""
    from scipy.optimize import brentq
    from scipy.stats import t

    made, x = strip.prior(90.0, u68, u95), strip.grid()
    dof = brentq(lambda v: t.ppf(0.975, v) / t.ppf(0.84, v) - u95 / u68, 1.0, 300.0)
    wanted = t.pdf((x - 90.0) / (u68 / t.ppf(0.84, dof)), dof)
    assert made == pytest.approx(wanted / wanted.max(), abs=2e-3)
    assert (np.diff(made[x <= 90]) > 0).all() and (np.diff(made[x >= 90]) < 0).all()


def test_ranges_near_to_each_other_are_one():
    x = strip.grid()
    def hills(gap):
        return ((np.abs(x - 80) <= 5) | ((x >= 85 + gap) & (x <= 95 + gap))).astype(float)
    assert len(strip.regions(hills(1.5), 0.999)) == 1 and len(strip.regions(hills(4.0), 0.999)) == 2


def test_middle_of_an_even_hill_is_its_middle():
    x = strip.grid()
    assert strip.middle(np.exp(-0.5 * ((x - 90.0) / 3.0) ** 2)) == pytest.approx(90.0, abs=1e-6)


def test_a_crack_takes_halo_and_pulled_side_with_it():
    bare, full = (strip.likelihoods(strips([row]), PLATE) for row in ((90.0, NONE, 1, 0), (90.0, 4, 1, 1)))
    assert full == pytest.approx(bare, rel=1e-12)


def test_a_set_point_off_by_more_widens():
    from dataclasses import replace

    sure, unsure = (strip.regions(strip.joint(strip.likelihoods(strips([(90.0, 3, 0, 1)]), replace(PLATE, span_u_k=u))), 0.95)[0] for u in (0.0, 120.0))
    assert unsure[1] - unsure[0] > sure[1] - sure[0]
