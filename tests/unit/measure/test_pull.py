"""What a pull test says."""

from math import log10

import pytest

from tests.unit.measure.bench import BOTH, NATRON, told

SETUP = {"pattern": "ABA", "pull_c": 800.0, "u_pull_c": 30.0, "reading_sd_mm": 0.05}


def rod(*chips):
    return {str(i): {"before_1_mm": before, "after_1_mm": after} for i, (before, after) in enumerate(chips, 1)}


ROD = rod((5.0, 3.0), (5.0, 4.2), (5.0, 3.1))


def test_the_plain_sentence():
    """25 − 9 and 25 − 9.61 mm², geometric mean 15.69, over 25 − 17.64 = 7.36: 2.13 times (section C of the groundwork).

    Kelvins: where the known glass's own curve, by its a, b and t0, is 2.13 times as stiff as at 800 °C.
    """
    made = told("pull", SETUP, ROD)
    vft = NATRON["vft"]
    harder = 800 - (vft["t0_c"] + vft["b"] / (vft["b"] / (800 - vft["t0_c"]) + log10(15.69 / 7.36)))
    assert made.sentence == f"At 800 °C Ash glass (B) is 2.1 times as stiff as Sand glass (A), give or take 0.3: about {harder:.0f} K harder."
    assert made.refused is None and made.is_log and made.axis.startswith("Viscosity")
    (lane,) = made.lanes
    assert lane.value == pytest.approx(15.69 / 7.36, rel=1e-3)
    assert lane.low95 < lane.low68 < lane.value < lane.high68 < lane.high95
    assert made.rows[0][0] == "Viscosity, Ash glass (B) ÷ Sand glass (A)" and made.rows[0][1].startswith("2.1 (68 in 100: ")
    assert made.rows[1][1].startswith(f"{harder:.0f} K harder, ± ")


def test_letters_changed_over_tell_the_same():
    made, other = told("pull", SETUP, ROD), told("pull", {**SETUP, "pattern": "BAB"}, ROD, {"A": BOTH["B"], "B": BOTH["A"]})
    assert other.lanes[0].value == pytest.approx(made.lanes[0].value)
    assert other.sentence.startswith("At 800 °C Sand glass (A) is 2.1 times as stiff as Ash glass (B)")


def test_two_directions_are_averaged():
    turned = {place: {**row, "after_2_mm": row["after_1_mm"]} for place, row in ROD.items()}
    assert told("pull", SETUP, turned).lanes[0].high95 < told("pull", SETUP, ROD).lanes[0].high95
    uneven = {**ROD, "2": {"before_1_mm": 5.0, "after_1_mm": 4.1, "after_2_mm": 4.3}}
    assert told("pull", SETUP, uneven).lanes[0].value == pytest.approx(told("pull", SETUP, ROD).lanes[0].value)


def test_without_a_heat_or_a_curve_there_are_no_kelvins():
    cold = told("pull", {"pattern": "ABA"}, ROD)
    assert cold.sentence == "Ash glass (B) is 2.1 times as stiff as Sand glass (A), give or take 0.3."
    assert any("Note the heat" in x for x in cold.advice) and len(cold.rows) == 1
    bare = told("pull", SETUP, ROD, {})
    assert "K harder" not in bare.sentence and any("enter an analysis" in x for x in bare.advice)


def test_a_curve_of_either_glass_serves():
    by_b = told("pull", SETUP, ROD, {"B": BOTH["B"]})
    assert by_b.rows[1][0] == "Sand glass (A) against Ash glass (B)" and "K softer" in by_b.rows[1][1]
    assert "K harder" in by_b.sentence


def test_missing_readings_are_named():
    made = told("pull", SETUP, {"1": {"before_1_mm": 5.0, "after_1_mm": 3.0}, "2": {"before_1_mm": 5.0}})
    assert made.refused == made.sentence == "No whole chip of Ash glass (B) is measured yet."
    assert made.advice == ("Still missing: chip 2 (B), thickness after the pull; chip 3 (A), thickness before and after the pull.",)
    assert made.lanes == ()


def test_an_unfinished_rod_already_tells_something():
    made = told("pull", SETUP, {k: ROD[k] for k in ("1", "2")})
    assert made.refused is None
    assert "Not counted yet: chip 3 (A), thickness before and after the pull." in made.cautions
    assert any("cannot be told from a difference" in x for x in made.cautions)


def test_a_glass_that_hardly_thinned_is_at_least():
    made = told("pull", SETUP, rod((5.0, 3.0), (5.0, 4.95), (5.0, 3.1)))
    assert made.sentence.startswith("At 800 °C Ash glass (B) is at least ") and "it hardly thinned" in made.sentence
    (lane,) = made.lanes
    assert lane.high68 is None and lane.high95 is None and lane.value == lane.low95 < 15.69 / (25 - 4.95**2)
    assert any("Pull hotter or further" in x for x in made.advice)


def test_the_limits_of_thinning():
    """A tenth of the diameter tells a number, a little less only a bound; below a seventh there is a warning."""
    assert told("pull", SETUP, rod((5.0, 3.0), (5.0, 4.49), (5.0, 3.1))).lanes[0].high95 is not None
    assert told("pull", SETUP, rod((5.0, 3.0), (5.0, 4.51), (5.0, 3.1))).lanes[0].high95 is None
    assert any("less than a seventh" in x for x in told("pull", SETUP, rod((5.0, 3.0), (5.0, 4.4), (5.0, 3.1))).cautions)
    assert not told("pull", SETUP, rod((5.0, 3.0), (5.0, 4.2), (5.0, 3.1))).cautions


def test_a_rod_that_was_not_pulled_is_refused():
    made = told("pull", SETUP, rod((5.0, 4.9), (5.0, 4.95), (5.0, 4.9)))
    assert "thinned by a tenth" in made.refused and made.lanes == () and made.advice


def test_one_glass_is_nothing_to_compare():
    assert "one glass only" in told("pull", {**SETUP, "pattern": "AA"}, ROD).refused


def test_faults_and_misreadings_are_left_out():
    marred = {**rod((5.0, 3.0), (5.0, 4.2), (5.0, 3.1), (5.0, 2.0)), "4": {"before_1_mm": 5.0, "after_1_mm": 2.0, "fault": "bubble"}}
    made = told("pull", {**SETUP, "pattern": "ABAB"}, marred)
    assert made.lanes[0].value == pytest.approx(told("pull", SETUP, ROD).lanes[0].value)
    assert "Chip 4 (B) is left out: a bubble." in made.cautions
    grown = told("pull", SETUP, rod((5.0, 3.0), (5.0, 5.6), (5.0, 3.1)))
    assert grown.refused and any("thicker after the pull" in x for x in grown.cautions)
    assert grown.advice == ("Measure chip 2 again; if that does not help, pull a new rod whose chips are sound.",)
    flawed = told("pull", SETUP, {**ROD, "2": {**ROD["2"], "fault": "crack"}})
    assert flawed.advice == ("Pull a new rod whose chips are sound.",)


def test_columns_changed_over_are_said():
    made = told("pull", SETUP, rod((3.0, 5.0), (4.2, 5.0), (3.1, 5.0)))
    assert made.refused == "Every chip is read thicker after the pull than before." and made.lanes == ()
    assert made.advice == ("Swap before and after: the two look exchanged.",)


def test_a_chip_unlike_its_rod_is_misread():
    """60 for 6 mm, and 3 for 6: half as thick again, or less than two thirds, is no chip of an even rod (judgement)."""
    for wrong in (60.0, 3.0):
        made = told("pull", SETUP, rod((wrong, 0.05), (6.0, 4.2), (6.0, 3.2)))
        assert any(f"Chip 1 (A) is left out: before the pull it is read {wrong:.1f} mm, the rod about 6.0 mm." in x for x in made.cautions)
        rest = told("pull", SETUP, {k: v for k, v in rod((6.0, 3.0), (6.0, 4.2), (6.0, 3.2)).items() if k != "1"})
        assert made.lanes == rest.lanes
    both = told("pull", {**SETUP, "pattern": "AB"}, rod((60.0, 0.05), (6.0, 4.2)))
    assert both.refused and both.advice[0].startswith("Measure chip 1 and 2 again")
    assert not any("left out" in x for x in told("pull", SETUP, rod((6.0, 3.0), (7.5, 6.0), (5.2, 3.2))).cautions)


def test_a_line_too_steep_for_a_flame_gives_no_number():
    """A–B–A has as many unknowns as chips: 6 → 0.5 beside 6 → 5.2 mm is 0.69 in ln a chip, some 22 K at 0.031 per K."""
    made = told("pull", SETUP, rod((6.0, 0.5), (6.0, 4.2), (6.0, 5.2)))
    assert "too unlike along the rod" in made.refused and made.lanes == ()
    assert any("some 22 K hotter from chip to chip" in x for x in made.cautions)


def test_a_heat_outside_the_sense_of_the_curve_gives_no_kelvins():
    """At 400 °C glass stands, at 1500 °C it runs; the ratio is told all the same, its ± at a usual heat."""
    usual = told("pull", SETUP, ROD)
    for heat, word in ((400.0, "too stiff"), (1500.0, "too runny")):
        made = told("pull", {**SETUP, "pull_c": heat}, ROD)
        assert " K harder" not in made.sentence and len(made.rows) == 1
        assert any(word in x for x in made.cautions)
        assert made.lanes[0].high95 == pytest.approx(usual.lanes[0].high95, rel=0.1)
    assert not any("kelvins" in x for x in usual.cautions)


def test_a_third_glass_without_a_chip_does_not_hide_the_rest():
    made = told("pull", {**SETUP, "pattern": "ABACA"}, ROD)
    assert made.lanes == told("pull", SETUP, ROD).lanes
    assert any("No whole chip of Blue glass (C) is measured yet" in x for x in made.cautions)


def test_alike_glasses_are_not_told_apart():
    made = told("pull", SETUP, rod((5.0, 3.0), (5.0, 3.1), (5.0, 3.2)))
    assert "cannot be told apart by this rod" in made.sentence
    assert made.lanes[0].low95 < 1 < made.lanes[0].high95


def test_a_steep_heat_is_said():
    steep = rod((5.0, 4.3), (5.0, 4.2), (5.0, 2.6))
    assert any("hotter from chip to chip" in x for x in told("pull", SETUP, steep).cautions)


def test_three_glasses_against_the_one_that_comes_most():
    made = told("pull", {**SETUP, "pattern": "ABACA"}, rod((5.0, 3.0), (5.0, 4.0), (5.0, 3.0), (5.0, 2.4), (5.0, 3.0)))
    assert [lane.label for lane in made.lanes] == ["Ash glass (B) ÷ Sand glass (A)", "Sand glass (A) ÷ Blue glass (C)"]
    assert made.lanes[1].value == pytest.approx((25 - 2.4**2) / 16, rel=1e-6)


def test_the_advice_follows_the_greater_error():
    assert any("uneven heat" in x for x in told("pull", {**SETUP, "reading_sd_mm": 0.01}, ROD).advice)
    assert any("calliper" in x for x in told("pull", {**SETUP, "reading_sd_mm": 0.3}, ROD).advice)


def test_names_that_are_alike_go_by_their_letters():
    from tests.unit.measure.bench import glass

    made = told("pull", SETUP, ROD, glasses=[glass("Sand glass"), glass("Sand glass", piece="Find 12")])
    assert "Find 12 (B) is 2.1 times as stiff as Sand glass (A)" in made.sentence
    made = told("pull", SETUP, ROD, glasses=[glass("Sand glass"), glass("Sand glass")])
    assert "glass B is 2.1 times as stiff as glass A" in made.sentence


def test_a_wide_ratio_is_said_as_a_range():
    made = told("pull", {**SETUP, "reading_sd_mm": 0.2}, rod((5.0, 1.5), (5.0, 4.4), (5.0, 1.5)))
    (lane,) = made.lanes
    assert f"is {lane.low68:.1f} to {lane.high68:.1f} times as stiff" in made.sentence and "give or take" not in made.sentence
