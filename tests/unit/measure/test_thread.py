"""What a thread test says."""

import pytest

from tests.unit.measure.bench import NATRON, report, told

SETUP = {"reading_sd_mm": 0.2, "set_c": 520.0}


def threads(*bows, side="A", **more):
    return {str(i): {"length_mm": 200.0, "thickness_mm": 1.0, "inside": side, "bow_mm": b - 0.1, "bow_turned_mm": b + 0.1, **more} for i, b in enumerate(bows, 1)}


def test_the_plain_sentence():
    """d 1.00 mm, L 200 mm, rise 4.24 mm, 500 K: 10.0 points (worked example of the trade notes)."""
    made = told("thread", SETUP, threads(4.24, 4.24, 4.24))
    assert made.sentence.startswith("Sand glass (A) shrinks more and lies inside the bow: its expansion is 10.0 × 10⁻⁷ per K above that of Ash glass (B), give or take ")
    assert made.sentence.endswith("High risk of cracks.")
    assert made.lanes[0].value == pytest.approx(10.0, abs=0.05) and not made.is_log
    assert not made.advice and not made.cautions
    assert ("Sets at", "520 ± 15 °C") in made.rows


def test_the_other_side_inside():
    made = told("thread", SETUP, threads(4.24, 4.24, 4.24, side="B"))
    assert made.sentence.startswith("Ash glass (B) shrinks more") and made.lanes[0].value == pytest.approx(-10.0, abs=0.05)


def test_straight_threads_are_alike_and_need_no_bow():
    rows = {str(i): {"length_mm": 300.0, "thickness_mm": 0.8, "inside": "straight"} for i in (1, 2, 3)}
    made = told("thread", SETUP, rows)
    assert "shrink alike as far as these threads tell" in made.sentence and "No conflict is seen." in made.sentence
    assert made.lanes[0].value == 0 and made.lanes[0].high95 > 0.5


def test_a_straight_thread_with_a_bow_is_doubt():
    straight = told("thread", SETUP, threads(0.4, 0.4, 0.4, side="straight"))
    bowless = told("thread", SETUP, threads(0.1, 0.1, 0.1, side="straight"))
    assert straight.lanes[0].value == 0 and straight.lanes[0].high68 > bowless.lanes[0].high68


def test_missing_readings_are_named():
    made = told("thread", SETUP, {"1": {"length_mm": 200.0}, "2": {"length_mm": 200.0, "thickness_mm": 1.0, "inside": "A"}})
    assert made.refused == "No thread is measured whole yet." and made.lanes == ()
    assert made.advice == ("Still missing: thread 1, thickness, which glass lies inside and bow; thread 2, bow.",)
    assert told("thread", SETUP, {}).refused == "No thread is measured yet."


def test_one_thread_read_one_way_asks_for_more():
    made = told("thread", SETUP, {"1": {"length_mm": 200.0, "thickness_mm": 1.0, "inside": "A", "bow_mm": 4.24}})
    assert any(x.startswith("Draw 2 more threads") for x in made.advice) and any(x.startswith("Turn each thread over") for x in made.advice)
    three = told("thread", SETUP, threads(4.24, 4.24, 4.24))
    assert made.lanes[0].high95 - made.lanes[0].low95 > 1.5 * (three.lanes[0].high95 - three.lanes[0].low95)


def test_the_set_point_comes_from_the_softer_curve():
    """10^14 dPa·s on the curve of the natron glass lies near 510 °C; without curves the usual 500 ± 30. A thread cools fast: 15 ± 15 K more."""
    made = told("thread", {}, threads(4.24, 4.24, 4.24))
    shown = dict(made.rows)["Sets at"]
    assert 495 < float(shown.split()[0]) < 530
    assert dict(told("thread", {}, threads(4.24), {}).rows)["Sets at"] == "515 ± 34 °C"


def test_unequal_halves_bend_less():
    """A share of three tenths bends 1.44 where a half bends 1.698 (printed in section E of the groundwork)."""
    half, part = (told("thread", SETUP, threads(4.0, 4.0, 4.0, **more)) for more in ({}, {"share_a": 0.3}))
    assert part.lanes[0].value / half.lanes[0].value == pytest.approx(1.698 / 1.44, rel=0.005)


def test_odd_threads_are_cautioned():
    rows = threads(3.0, 3.2)
    rows["3"] = {**rows["1"], "inside": "B"}
    assert any("bow to different sides" in x for x in told("thread", SETUP, rows).cautions)
    twisted = {**threads(4.0, 4.0), "3": {"length_mm": 200.0, "thickness_mm": 1.0, "inside": "A", "bow_mm": 1.0, "bow_turned_mm": 7.0}}
    assert any(x.startswith("Thread 3: the two ways of lying differ") for x in told("thread", SETUP, twisted).cautions)
    thick = told("thread", SETUP, {"1": {"length_mm": 20.0, "thickness_mm": 2.0, "inside": "A", "bow_mm": 0.1}})
    assert any("short and thick" in x for x in thick.cautions)
    deep = told("thread", SETUP, threads(30.0, 30.0, 30.0))
    assert any("tenth of the length" in x for x in deep.cautions)


def test_a_middle_verdict_says_what_worse_may_be():
    made = told("thread", SETUP, threads(2.1))
    assert "Watch this pair, but high risk has about " in made.sentence


def test_a_thread_sets_above_an_annealed_piece():
    """Up to 30 K (from memory): half of it, give or take as much; a set point that was told is taken as told."""
    from server.physics.seal import set_point_c

    shown = dict(told("thread", {}, threads(4.24, 4.24, 4.24), {"A": NATRON, "B": NATRON}).rows)["Sets at"]
    assert float(shown.split()[0]) == round(set_point_c(NATRON["vft"]) + 15)
    assert ("Sets at", "520 ± 15 °C") in told("thread", SETUP, threads(4.24)).rows


def test_lead_glass_without_a_curve_sets_lower_and_less_surely():
    crystal = {**report(SiO2=55.0, PbO=34.0, K2O=11.0), "vft": None}
    made, plain = (told("thread", {}, threads(4.24, 4.24, 4.24), {"A": NATRON, **more}) for more in ({"B": crystal}, {}))
    assert dict(made.rows)["Sets at"] == "465 ± 62 °C" and any("holds lead and has no curve" in x for x in made.cautions)
    assert made.lanes[0].high68 - made.lanes[0].low68 > plain.lanes[0].high68 - plain.lanes[0].low68 and not plain.cautions


def test_threads_that_cannot_tell_say_so():
    rows = threads(4.0, 4.0)
    rows["3"] = {**rows["1"], "inside": "B"}
    made = told("thread", SETUP, rows)
    assert made.sentence.startswith("These threads cannot tell whether ") and "No conflict" not in made.sentence and "alike as far" not in made.sentence
    assert "Low risk: about " in made.sentence and "high risk: " in made.sentence


def test_no_conflict_is_seen_only_where_low_risk_is_sure():
    """80 ppm with a chance of some 8 in 10 of lying below 100 ppm is no 'no conflict'; 30 ppm is."""
    near, far = (told("thread", SETUP, threads(*[bow] * 6)) for bow in (0.7, 0.25))
    assert "A conflict is not ruled out: low risk has about " in near.sentence and "No conflict" not in near.sentence
    assert far.sentence.endswith("No conflict is seen.")


def test_short_threads_and_half_circles_are_left_out():
    thick = told("thread", SETUP, {"1": {"length_mm": 10.0, "thickness_mm": 10.0, "inside": "A", "bow_mm": 0.5}})
    assert thick.refused == "No thread that was measured can be counted." and thick.lanes == ()
    round_ = {**threads(4.24, 4.24, 4.24), "4": {"length_mm": 300.0, "thickness_mm": 0.8, "inside": "A", "bow_mm": 200.0, "bow_turned_mm": 200.0}}
    made = told("thread", SETUP, round_)
    assert made.lanes == told("thread", SETUP, threads(4.24, 4.24, 4.24)).lanes
    assert any(x.startswith("Thread 4 is left out: a bow of more than half its length") for x in made.cautions)


def test_glasses_that_lie_too_far_apart_are_measured_again():
    assert any("read bow, length and thickness again" in x for x in told("thread", SETUP, threads(30.0, 30.0, 30.0)).cautions)
    assert not any("again" in x for x in told("thread", SETUP, threads(15.0, 15.0, 15.0)).cautions)


def test_own_weight_read_one_way_asks_for_the_other():
    """0.4 mm on 300 mm sags by some 4 mm (5 w L⁴ / 384 E I), far more than the ruler's 0.2 mm."""
    thin = {"length_mm": 300.0, "thickness_mm": 0.4, "inside": "A", "bow_mm": 3.8}
    once = told("thread", SETUP, {str(i): thin for i in range(1, 7)})
    assert any(x.startswith("Thread 1, 2, 3, 4, 5 and 6 may sag by their own weight") for x in once.cautions)
    assert once.lanes[0].low95 < 0 < once.lanes[0].high95
    both = told("thread", SETUP, {str(i): {**thin, "bow_turned_mm": 3.8} for i in range(1, 7)})
    assert not any("own weight by more" in x for x in both.cautions) and both.lanes[0].low95 > 0
