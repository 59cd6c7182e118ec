"""What a fuse test says."""

import pytest

from tests.unit.measure.bench import LEAD, NATRON, told

SETUP = {"peak_c": 790.0, "hold_min": 10.0, "rise_c_h": 300.0, "shelf": "kiln wash", "contact_angle_deg": 120.0, "reference": "A"}


def square(letter, after_mm, before_mm=9.0, **more):
    return {"glass": letter, "height_before_mm": before_mm, "height_after_mm": after_mm, "mass_g": 2.0, "width_before_mm": 10.6, **more}


PAIRS = {"a1": square("A", 6.5), "a2": square("B", 7.5), "b1": square("A", 6.5), "b2": square("B", 7.5)}


def test_the_plain_sentence():
    """Doses of rows D05 and D06 of the groundwork: 0.0125607 ÷ 0.00585211 = 2.146."""
    made = told("fuse", SETUP, PAIRS)
    assert made.sentence.startswith("Fired side by side to 790 °C, Ash glass (B) is 2.1 times as stiff as Sand glass (A), give or take 0.4: about ")
    assert made.sentence.endswith("K harder.")
    assert made.lanes[0].value == pytest.approx(2.146, rel=0.005) and made.is_log
    assert made.refused is None and not made.cautions
    assert dict(made.rows)["Square a1, Sand glass (A)"] == "57 % of its possible drop"


def test_the_known_glass_checks_the_kiln():
    made = told("fuse", SETUP, PAIRS)
    assert "slumped as its estimate would at a peak of" in dict(made.rows)["Kiln check"]
    hot = told("fuse", {**SETUP, "peak_c": 880.0}, PAIRS)
    assert any("look at the thermocouple" in x for x in hot.cautions)
    assert "Kiln check" not in dict(told("fuse", SETUP, PAIRS, {}).rows)


def test_without_a_curve_the_usual_slope_gives_the_kelvins():
    made = told("fuse", SETUP, PAIRS, {})
    assert "K harder" in made.sentence and any("float-like" in x for x in made.sources)


def test_a_matt_skin_does_not_count():
    rows = {**PAIRS, "b2": square("B", 8.9, skin="matt")}
    made = told("fuse", SETUP, rows)
    assert made.lanes[0].value == pytest.approx(2.146, rel=0.005)
    assert any(x.startswith("Square b2 (B) is left out: a matt skin is crystals") for x in made.cautions)
    only = told("fuse", SETUP, {"a1": square("A", 6.5, skin="matt"), "a2": square("B", 7.5)})
    assert "No chip of the known glass" in only.refused and only.lanes == ()


def test_too_little_and_too_far_are_refused_with_a_heat():
    made = told("fuse", SETUP, {"a1": square("A", 4.75), "a2": square("B", 8.9)})
    assert "went all but flat" in made.refused and made.lanes == ()
    assert any(x.startswith("Sand glass (A) went all but flat: fire it some ") and "K cooler" in x for x in made.advice)
    assert any(x.startswith("Ash glass (B) hardly moved: fire it some ") and "K hotter" in x for x in made.advice)
    assert any("No one firing suits them all" in x for x in made.advice)


def test_the_advised_heat_is_that_of_the_curve():
    """f 0.05 wants 0.4: the doses' ratio read off the curve of the glass, by hand from its a, b and t0."""
    from math import log10

    from server.physics import slump

    shelf, vft = slump.Shelf(8e-7), NATRON["vft"]
    rest = float(slump.rest_height(shelf))
    after = 9e-3 - 0.07 * (9e-3 - rest)
    made = told("fuse", SETUP, {"a1": square("A", 1e3 * after)}, {"A": NATRON})
    ratio = float(slump.dose_to(shelf, 9e-3, 0.4) / slump.dose(shelf, 9e-3, after))
    log_eta = vft["a"] + vft["b"] / (790 - vft["t0_c"]) - log10(ratio)
    hotter = vft["t0_c"] + vft["b"] / (log_eta - vft["a"]) - 790
    (line,) = [x for x in made.advice if "hotter" in x]
    assert float(line.split("some ")[1].split(" K")[0]) == pytest.approx(hotter, abs=2.6)


def test_a_glass_that_gave_only_a_direction_is_said():
    rows = {**PAIRS, "c1": square("C", 8.95)}
    made = told("fuse", SETUP, rows)
    assert len(made.lanes) == 1 and any(x == "Blue glass (C) hardly moved: it is stiffer than can be read from this firing." for x in made.cautions)


def test_missing_readings_are_named():
    made = told("fuse", SETUP, {"a1": {"glass": "A", "mass_g": 2.0, "height_before_mm": 9.0}, "b1": {"height_before_mm": 9.0}})
    assert made.refused and made.lanes == ()
    assert made.cautions == ("Not counted yet: square a1, height after; square b1, which glass lies there, height after and mass, or width before.",)


def test_the_look_alone_gives_the_order():
    made = told("fuse", SETUP, {"a1": {"glass": "A", "rounding": "dome"}, "a2": {"glass": "B", "rounding": "edges soft"}, "a3": {"glass": "C", "rounding": "dome"}})
    assert made.sentence == "By the look of the edges Sand glass (A) is as soft as Blue glass (C), softer than Ash glass (B); how much, only heights tell."
    assert made.refused and made.lanes == ()


def test_a_flake_tells_nothing():
    made = told("fuse", SETUP, {"a1": square("A", 4.2, before_mm=4.0, width_before_mm=16.0), "a2": square("B", 7.5)})
    assert "began no higher than it rests" in made.refused and any("as high as wide" in x for x in made.advice)


def test_what_does_not_go_together_is_said():
    assert any("do not make one compact chip" in x for x in told("fuse", SETUP, {**PAIRS, "a1": square("A", 6.5, width_before_mm=25.0)}).cautions)
    assert any("its edges look 'sharp'" in x for x in told("fuse", SETUP, {**PAIRS, "a1": square("A", 6.5, rounding="sharp")}).cautions)
    assert any("began little higher" in x for x in told("fuse", SETUP, {**PAIRS, "a1": square("A", 5.1, before_mm=5.6, width_before_mm=13.5)}).cautions)
    assert any("holds lead" in x for x in told("fuse", SETUP, PAIRS, {"B": LEAD}).cautions)


def test_without_a_balance_the_width_serves_and_is_surer_with():
    bare = {place: {k: v for k, v in row.items() if k != "mass_g"} for place, row in PAIRS.items()}
    made, weighed = told("fuse", SETUP, bare), told("fuse", SETUP, PAIRS)
    assert made.lanes[0].value == pytest.approx(weighed.lanes[0].value, rel=0.03)
    assert made.lanes[0].high95 > weighed.lanes[0].high95


def test_single_chips_ask_for_duplicates():
    made = told("fuse", SETUP, {k: PAIRS[k] for k in ("a1", "a2")})
    assert any("two chips of every glass" in x for x in made.advice)
    assert not any("two chips of every glass" in x for x in told("fuse", SETUP, PAIRS).advice)


def test_alike_glasses_are_not_told_apart():
    assert "cannot be told from Sand glass (A)" in told("fuse", SETUP, {"a1": square("A", 6.5), "a2": square("B", 6.6)}).sentence
