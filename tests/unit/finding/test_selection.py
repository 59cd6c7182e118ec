"""Times that count, filtered, corrected for mass and summed up; the interval is scipy's t interval on logarithms."""

import csv
import io

import numpy as np
import pytest
from scipy import stats

from server.finding import words
from server.finding.picture import picture
from server.finding.selection import Wanted, choices, chosen, groups_of, timed
from server.trial.timing import trial_from
from tests.entries import entry, whole_trial


def kept(sag_s: float, **setup):
    return trial_from(whole_trial(at_s=(0, sag_s, 3 * sag_s, 3 * sag_s + 5, 3 * sag_s + 40), **setup))


def left_out(sag_s: float, lane: str):
    entries = whole_trial(at_s=(0, sag_s, 3 * sag_s, 3 * sag_s + 5, 3 * sag_s + 40))
    return trial_from([*entries, entry("trial.left_out", entries[0]["subject"], 9, {"lane": lane, "why": "a draught"})])


SOFT = [13.1, 15.8, 14.2, 13.9]
TRIALS = [
    *(kept(s) for s in SOFT), left_out(29.0, "sag"),
    kept(20.0, glass_key="modern-float", glass_name="Demo float", torch="other torch"), kept(22.0, glass_key="modern-float", glass_name="Demo float", mass_g=4.0),
    kept(30.0, piece="DEMO-17", consent=True, piece_id="018f0000-0000-7000-8000-0000000000f1"),
    trial_from(whole_trial()[:-1]),
]  # fmt: skip
ROWS = timed(TRIALS, {"018f0000-0000-7000-8000-0000000000f1": "green"})


def test_glasses_and_pieces_stand_apart_softest_first_and_the_interval_is_students():
    groups = groups_of(ROWS, "measured")
    assert [(g.label, g.is_find, len(g.rows)) for g in groups] == [("Demo Rubin rod", False, 5), ("Demo float", False, 2), ("DEMO-17", True, 1)]
    one = groups[0].lanes["sag"]
    low, high = np.exp(stats.t.interval(0.95, 3, np.log(SOFT).mean(), stats.sem(np.log(SOFT))))
    assert (one.low95_s, one.high95_s, one.mean_s) == pytest.approx((low, high, stats.gmean(SOFT)), rel=1e-6) and one.median_s == pytest.approx(14.05)
    assert groups[2].lanes["sag"].low95_s is None
    assert [why for _s, why, _t in groups[0].points["sag"]] == ["", "", "", "", "left out by hand: a draught"]
    assert len(groups[0].lanes["round"].times) == 5  # only its sag time was left out


def test_a_heavier_chip_is_taken_to_two_grams():
    """t (2 g / m)^0.40: 4 g took 22 s, so 2 g would take 22 / 2^0.4 = 16.67 s, worked by hand."""
    float_glass = next(g for g in groups_of(ROWS, "corrected") if g.label == "Demo float")
    assert [round(s, 2) for s, _why, _trial in float_glass.points["sag"]] == [20.0, 16.67]


def test_only_what_is_asked_for():
    assert {row.label for row in chosen(ROWS, Wanted(kind="piece"))} == {"DEMO-17"}
    assert [row.label for row in chosen(ROWS, Wanted(torch="other torch"))] == ["Demo float"]
    assert [row.mass_g for row in chosen(ROWS, Wanted(least_g=3.0))] == [4.0] and len(chosen(ROWS, Wanted(most_g=3.0))) == 7
    assert choices(ROWS)["torch"] == ["demo torch, 5 cm", "other torch"] and choices(ROWS)["colour"] == ["green"]
    assert words.lead(groups_of(chosen(ROWS, Wanted(operator="nobody")), "measured")) == "No kept trial fits what is asked for."


def test_the_picture_holds_every_raw_time_and_the_table_too():
    groups = groups_of(ROWS, "measured")
    drawn = picture(groups)
    sag = drawn["panels"][0]
    assert [row.counts.count("M") for row in sag["rows"]] == [4, 2, 1] and [row.out.count("M") for row in sag["rows"]] == [1, 0, 0]
    xs = [float(part.split()[0]) for row in sag["rows"] for part in (row.counts + row.out).split("M")[1:]]
    assert all(drawn["left"] <= x <= drawn["right"] for x in xs)
    table = list(csv.DictReader(io.StringIO(words.as_csv(groups, "measured"))))
    assert len(table) == 8 * 3 and [row["counts"] for row in table if row["lane"] == "sag" and row["group"] == "Demo Rubin rod"].count("no") == 1
    assert picture(groups_of([], "measured")) is None
