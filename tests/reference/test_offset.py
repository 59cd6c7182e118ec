"""The softening offset on invented pieces: a sphere in which heat goes inward through shells, which the estimators know nothing of.

Rebuilt from the words of the physics groundwork, B.3 (priors) and A.0 (the table that the sphere is held to). Stated there, or read into it:
torch h 80 to 160 W/(m²K) and 1850 to 2200 K, Φ_s 10^−5.5 to 10^−4, k 1.3 to 4, offset within ± 60 K at log 7.6, the curve's A ± 0.15 and B ± 6 %,
emissivity ± 0.06 and heat capacity ± 3 % of the unknown (one standard deviation each), h ∝ R^0 to R^−½; an observer with 0.2 s of reaction, 10 %
of judgement (15 % for round), pieces of 2 g ± 10 %, weighed. Harsher: emissivity ± 0.12, heat capacity ± 4 %, h drifting by 5 % between sessions.
Coverage is conditional on these priors; nothing here was measured.
"""

from functools import cache

import numpy as np
import pytest
from scipy import stats

from server.errors import Refused
from server.physics import forecast, offset
from server.physics.flame_protocol import flags, round_offset_k

SIGMA, FLOAT = 5.670374419e-8, (-1.601, 4330.9, 246.1)
VFT = dict(zip(("a", "b", "t0_c"), FLOAT, strict=True))
SOFT_C, COOL_K, HOT_K = 716.799, -45.0, 60.0
TRUTHS, REPEATS = 400, 2


def sphere(p: dict, shells=12, step_s=0.04, end_s=120.0) -> tuple[np.ndarray, np.ndarray]:
    """(s of sag, s of rounding at Λ 3) of pieces, arrays (n,) in p. Heat by explicit steps; viscosity averaged as bending a round section does (r³ dr), constant after end_s."""
    edges, radius = np.arange(shells + 1) / shells, np.cbrt(3e-3 * p["mass_g"] / (4 * np.pi * 2500.0))
    weight = np.diff(edges**4)
    store = 2500.0 * p["c"][:, None] * np.diff(edges**3) / 3 * radius[:, None] ** 3
    through = p["k"][:, None] * edges[1:-1] ** 2 * (radius * shells)[:, None]
    skin, es = 2 * p["k"] * shells / radius, p["emissivity"] * SIGMA
    at, surface = np.full(store.shape, 773.15), np.full(len(radius), 773.15)
    dose, sag, end = np.zeros(len(radius)), np.full(len(radius), np.nan), 3.0 * radius / 0.30
    even = sag.copy()
    for i in range(int(end_s / step_s)):
        taken = p["h"] * (p["flame_k"] - surface) - es * (surface**4 - 295.0**4)
        surface = surface + (taken - skin * (surface - at[:, -1])) / (p["h"] + 4 * es * surface**3 + skin)
        inward = through * np.diff(at, axis=1)
        net = np.concatenate([inward, (skin * (surface - at[:, -1]) * radius**2)[:, None]], axis=1)
        net[:, 1:] -= inward
        at = at + step_s * net / store
        rate = 1 / (10 ** np.minimum(p["a"][:, None] + p["b"][:, None] / (at - 273.15 - p["t0_c"][:, None]) - 1, 50.0) @ weight)
        dose = dose + rate * step_s
        now = (i + 1) * step_s
        for reached, wanted in ((sag, p["dose"]), (even, end)):
            hit = np.isnan(reached) & (dose >= wanted)
            reached[hit] = now - ((dose - wanted) / rate)[hit]
    late_sag, late_even = (end_s + (wanted - dose) / rate for wanted in (p["dose"], end))
    return np.where(np.isnan(sag), late_sag, sag), np.where(np.isnan(even), late_even, even)


def draw_glass(rng, soft_c, spread=1.0) -> dict:
    """A curve through soft_c at log 7.6 with another shape."""
    a, b = FLOAT[0] + spread * rng.normal(0, 0.15, TRUTHS), FLOAT[1] * (1 + spread * rng.normal(0, 0.06, TRUTHS))
    return {"a": a, "b": b, "t0_c": soft_c - b / (7.6 - a)}


@cache
def world(is_harsh: bool = False) -> dict:
    """Who was drawn, and times of sag and rounding (mass of 1.6 and 2.4 g, truth) of reference, unknown and two known glasses."""
    rng = np.random.default_rng(11)
    torch = {"flame_k": rng.uniform(1850, 2200, TRUTHS), "dose": 10 ** rng.uniform(-5.5, -4, TRUTHS), "k": rng.uniform(1.3, 4, TRUTHS)}
    h, size, delta = rng.uniform(80, 160, TRUTHS), rng.uniform(0, 0.5, TRUTHS), rng.uniform(-60, 60, TRUTHS)
    e_sd, c_sd, drift = (0.12, 0.04, np.exp(rng.normal(0, 0.05, TRUTHS))) if is_harsh else (0.06, 0.03, 1.0)
    own = {"emissivity": np.clip(0.7 + rng.normal(0, e_sd, TRUTHS), 0.4, 0.95), "c": 1200 * (1 + rng.normal(0, c_sd, TRUTHS))}
    usual = {"emissivity": np.full(TRUTHS, 0.7), "c": np.full(TRUTHS, 1200.0)}
    glasses = {
        "reference": {**draw_glass(rng, SOFT_C, 0), **usual}, "unknown": {**draw_glass(rng, SOFT_C + delta), **own},
        "cool": {**draw_glass(rng, SOFT_C + COOL_K, 0), **usual}, "hot": {**draw_glass(rng, SOFT_C + HOT_K, 0), **usual},
    }
    rows = [{**g, **torch, "h": h * (m / 2) ** (-size / 3) * (drift if name == "unknown" else 1.0), "mass_g": np.full(TRUTHS, m)} for name, g in glasses.items() for m in (1.6, 2.4)]
    sag, even = (x.reshape(4, 2, TRUTHS) for x in sphere({key: np.concatenate([row[key] for row in rows]) for key in rows[0]}))
    return {"delta": delta, "unknown": glasses["unknown"], "sag": dict(zip(glasses, sag, strict=True)), "round": dict(zip(glasses, even, strict=True))}


def timed(rng, times, n, judgement=0.10) -> np.ndarray:
    """Stopwatch times (truth, n) of pieces of 2 g ± 10 %, corrected for mass as we do."""
    mass = np.clip(rng.normal(2, 0.2, (TRUTHS, n)), 1.0, 3.0)
    power = np.log(times[1] / times[0]) / np.log(1.5)
    true = times[0][:, None] * (mass / 1.6) ** power[:, None]
    return offset.mass_corrected(np.maximum(true * np.exp(rng.normal(0, judgement, mass.shape)) + rng.normal(0, 0.2, mass.shape), 0.5), mass)


@pytest.mark.parametrize(("k", "printed"), [(6.0, [14.4, 16.5, 18.1, 33.0]), (3.0, [15.2, 17.3, 19.0, 34.4]), (1.5, [17.4, 19.7, 21.5, 37.5])])
def test_the_sphere_is_that_of_the_groundwork(k, printed):
    """Sag times of table A.0: soft, natron, float, borosilicate, 30 shells there and 12 here."""
    curves = np.array([(-1.513549, 4119.721177, 219.704790), (-1.340982, 3952.346952, 256.843300), FLOAT, (-2.154839, 7254.76795, 81.290323)]).T
    alike = {"h": 120.0, "flame_k": 2000.0, "k": k, "c": 1200.0, "emissivity": 0.7, "mass_g": 2.0, "dose": 1e-5}
    sag, _ = sphere({**{name: np.full(4, x) for name, x in alike.items()}, "a": curves[0], "b": curves[1], "t0_c": curves[2]}, step_s=0.02, end_s=45.0)
    assert sag == pytest.approx(printed, rel=0.01)


REFERENCE, UNKNOWN = [20.1, 22.4, 19.2, 21.0, 20.6], [16.2, 17.9, 15.5, 16.8, 17.1]


def test_b01_to_b05():
    """Worked check of B.2; the interval by scipy on logs, the offset by hand."""
    made = offset.softening_offset(REFERENCE, UNKNOWN)
    by_scipy = stats.ttest_ind(np.log(UNKNOWN), np.log(REFERENCE)).confidence_interval(0.95)
    ratio = stats.gmean(UNKNOWN) / stats.gmean(REFERENCE)
    assert (made.ratio, made.ratio_low95, made.ratio_high95) == pytest.approx((ratio, np.exp(by_scipy.low), np.exp(by_scipy.high)), rel=1e-6)
    assert (made.ratio, made.ratio_low95, made.ratio_high95) == pytest.approx((0.808416, 0.74534, 0.876829), abs=1e-4)
    half = (by_scipy.high - by_scipy.low) / 2 / 0.0048
    assert made.delta_k == pytest.approx(np.log(ratio) / 0.0048) and made.delta_k == pytest.approx(-44.3081, abs=0.01)
    assert made.u95_k == pytest.approx(np.hypot(half, stats.norm.ppf(0.975) * np.hypot(8, 0.25 * np.log(ratio) / 0.0048)), rel=1e-5)
    assert made.u95_k == pytest.approx(31.6805, abs=0.01)
    assert offset.words(made, "float") == "Flame-softening offset against float: −44 ± 32 K (95 %, n = 5 + 5, same session)"


def test_uneven_trials_take_welch():
    """Three wild trials beside eight quiet ones: the interval of scipy's Welch test on logs."""
    wild, quiet = [14.0, 22.0, 31.0], [20.1, 20.9, 20.4, 20.6, 20.2, 20.7, 20.5, 20.3]
    made = offset.softening_offset(quiet, wild)
    by_scipy = stats.ttest_ind(np.log(wild), np.log(quiet), equal_var=False).confidence_interval(0.95)
    assert (made.ratio_low95, made.ratio_high95) == pytest.approx((np.exp(by_scipy.low), np.exp(by_scipy.high)), rel=1e-5)


def judged(n: int, is_harsh=False, is_same_session=True, seed=3):
    """(errors in K, offsets) of the ratio rule over all truths."""
    drawn, rng, made, errors = world(is_harsh), np.random.default_rng(seed), [], []
    for _ in range(REPEATS):
        reference, unknown = (timed(rng, drawn["sag"][x], n) for x in ("reference", "unknown"))
        for r, u, true in zip(reference, unknown, drawn["delta"], strict=True):
            try:
                made.append(offset.softening_offset(r, u, is_same_session))
            except Refused:
                continue
            errors.append(made[-1].delta_k - true)
    assert len(made) > 0.98 * TRUTHS * REPEATS
    return np.array(errors), made


@pytest.mark.parametrize(("n", "printed_half_k"), [(3, 51), (5, 38), (8, 32)])
def test_the_offset_holds_what_it_promises(n, printed_half_k):
    """95 of 100 and a little more, as the groundwork found (0.966 to 0.970 at 5 + 5, rmse 17 K); half-widths as printed there."""
    errors, made = judged(n)
    held = np.mean(np.abs(errors) < [x.u95_k for x in made])
    assert 0.93 <= held <= 0.99, held
    assert np.median([x.u95_k for x in made]) == pytest.approx(printed_half_k, rel=0.12)
    assert np.sqrt((errors**2).mean()) < 22


def test_times_alone_promise_too_much():
    errors, made = judged(5)
    held = np.mean(np.abs(errors) < [x.statistical95_k for x in made])
    assert 0.80 < held < 0.93, held  # groundwork 0.89


@pytest.mark.parametrize("n", [3, 5, 8])
def test_across_sessions_18_k_hold(n):
    """The harsher priors: 8 K hold too little from 5 trials on (groundwork 0.92, 0.88, 0.84), 18 K hold enough."""
    errors, made = judged(n, is_harsh=True, is_same_session=False)
    held = np.mean(np.abs(errors) < [x.u95_k for x in made])
    assert 0.94 <= held <= 0.995, held
    if n > 3:
        errors, narrow = judged(n, is_harsh=True)
        assert np.mean(np.abs(errors) < [x.u95_k for x in narrow]) < 0.93


def test_rounding_alone_is_biased():
    """At 0.02 a kelvin its own scatter holds less than 60 of 100 (groundwork 0.42), while the range of the flag holds."""
    drawn, rng = world(), np.random.default_rng(5)
    logs = [np.log(timed(rng, drawn["round"][x], 5, 0.15)) for x in ("unknown", "reference")]
    ln_ratio = logs[0].mean(axis=1) - logs[1].mean(axis=1)
    half = stats.t.ppf(0.975, 8) * np.sqrt(sum(x.var(axis=1, ddof=1) for x in logs) / 5)
    assert np.mean(np.abs(ln_ratio / 0.02 - drawn["delta"]) < half / 0.02) < 0.60
    ranges = np.array([round_offset_k(float(np.exp(x)), float(h)) for x, h in zip(ln_ratio, half, strict=True)])
    assert 0.93 <= np.mean((ranges[:, 1] < drawn["delta"]) & (drawn["delta"] < ranges[:, 2]))


def test_a_darker_piece_betrays_itself_by_rounding():
    """Section B.3: emissivity 0.8 against 0.7, 40 K softer, moves the sag by some +7 K and rounding by +27 K."""
    base = {"h": 120.0, "flame_k": 2000.0, "k": 3.0, "c": 1200.0, "mass_g": 2.0, "dose": 1e-5, "a": FLOAT[0], "b": FLOAT[1]}
    two = {**{name: np.full(2, x) for name, x in base.items()}, "emissivity": np.array([0.7, 0.8]), "t0_c": np.full(2, FLOAT[2] - 40.0)}
    sag, even = sphere(two)
    assert np.log(sag[1] / sag[0]) / 0.0048 == pytest.approx(7, abs=3)
    assert np.log(even[1] / even[0]) / 0.02 == pytest.approx(27, abs=10)


@pytest.mark.parametrize(("n", "least"), [(3, 0.94), (5, 0.93), (8, 0.91)])
def test_between_two_references(n, least):
    """Known glasses 45 K below and 60 K above: 0.96 at 5 each (groundwork 0.964); at 8 each the 8 K are somewhat short."""
    drawn, rng, held = world(), np.random.default_rng(7), []
    for _ in range(REPEATS):
        cool, hot, unknown = (timed(rng, drawn["sag"][x], n) for x in ("cool", "hot", "unknown"))
        for i, true in enumerate(drawn["delta"]):
            try:
                made = offset.between_two(cool[i], SOFT_C + COOL_K, hot[i], SOFT_C + HOT_K, unknown[i])
            except Refused as refused:
                assert refused.code in {"outside_bracket", "bracket_unclear"}
                continue
            held.append(abs(made.softening_c - SOFT_C - true) < made.u95_k)
    assert len(held) > 0.7 * TRUTHS * REPEATS
    assert least <= np.mean(held) <= 0.99, np.mean(held)


def foretold(is_harsh: bool, fit_rounding: bool) -> dict[str, tuple[float, float]]:
    """Stage -> share of single trials inside the ranges of 68 and 95, the torch fitted to 5 reference runs, curves off by 10 K."""
    drawn, rng = world(is_harsh), np.random.default_rng(9)
    means = {stage: np.exp(np.log(timed(rng, drawn[stage]["reference"], 5, 0.10 if stage == "sag" else 0.15)).mean(axis=1)) for stage in ("sag", "round")}
    off, glass = rng.normal(0, 10.0, TRUTHS), drawn["unknown"]
    seen = {stage: timed(rng, drawn[stage]["unknown"], 1, 0.10 if stage == "sag" else 0.15)[:, 0] for stage in means}
    seen["round"] = np.where(seen["round"] > 600, np.inf, seen["round"])
    inside: dict[str, list] = {"sag": [], "round": []}
    for i in range(TRUTHS):
        torch = forecast.torch_number(means["sag"][i], 2.0, VFT, 500.0, 0.045, mean_round_s=means["round"][i] if fit_rounding else None)
        if fit_rounding and torch.round_dose is None:
            continue
        curve = {"a": glass["a"][i], "b": glass["b"][i], "t0_c": glass["t0_c"][i] + off[i]}
        made = forecast.ranges(curve, 10.0, 2.0, 500.0, torch.h_w_m2k, torch.u_ln, torch.round_dose)
        for stage, held in inside.items():
            five = made[stage]
            held.append([five[1] <= seen[stage][i] <= five[2], five[3] <= seen[stage][i] <= five[4]])
    return {stage: tuple(np.mean(held, axis=0)) for stage, held in inside.items()}


@pytest.mark.parametrize("is_harsh", [False, True])
@pytest.mark.parametrize("fit_rounding", [False, True])
def test_forecasts_hold_what_they_promise(is_harsh, fit_rounding):
    """At least 64 and 92 of 100 under both priors; mostly more, as the stated ranges are wide. The factor of rounding that is not fitted was chosen on such pieces."""
    share = foretold(is_harsh, fit_rounding)
    for stage in ("sag", "round"):
        assert share[stage][0] >= 0.64 and share[stage][1] >= 0.92, (stage, share)


def test_flags_seldom_cry_wolf():
    """Pieces of about one colour: rounding is called at odds with the offset in less than 5 of 100."""
    drawn, rng = world(), np.random.default_rng(13)
    reference, unknown = (timed(rng, drawn["sag"][x], 5) for x in ("reference", "unknown"))
    logs = [np.log(timed(rng, drawn["round"][x], 5, 0.15)).mean(axis=1) for x in ("unknown", "reference")]
    odd = [flags(offset.softening_offset(reference[i], unknown[i]), float(np.exp(logs[0][i] - logs[1][i])), None)[0].is_consistent is False for i in range(TRUTHS)]
    assert np.mean(odd) < 0.05
