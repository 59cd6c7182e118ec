"""What a thread test says."""

import pytest

from tests.unit.measure.bench import told

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
    """10^14 dPa·s on the curve of the natron glass lies near 510 °C; without curves the usual 500 ± 30."""
    made = told("thread", {}, threads(4.24, 4.24, 4.24))
    shown = dict(made.rows)["Sets at"]
    assert 495 < float(shown.split()[0]) < 530
    assert dict(told("thread", {}, threads(4.24), {}).rows)["Sets at"] == "500 ± 30 °C"


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
