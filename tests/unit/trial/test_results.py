"""Medians, sentences and the table against examples worked by hand."""

import csv
import io
import uuid

import pytest

from server.trial import profile, results
from server.trial.timing import trial_from
from tests.entries import OTHER_PAGE, WALL_0, entry, pressed, stamp, started, whole_trial


def kept(*at_s, **setup):
    """A kept trial with presses at these seconds."""
    return trial_from(whole_trial(at_s=at_s, **setup))


FIVE = [kept(0, sag, 30, 40, 50) for sag in (13.1, 15.8, 14.2, 13.9, 15.0)]


def test_median_and_range_of_five_trials():
    lane = results.lane_of(FIVE, "sag")
    assert (lane.median_s, lane.low_s, lane.high_s, lane.count) == (pytest.approx(14.2), pytest.approx(13.1), pytest.approx(15.8), 5)


def test_the_sentence_that_opens_a_profile():
    sentence = results.profile_sentence("Demo Rubin rod", {"sag": results.lane_of(FIVE, "sag")})
    assert sentence == "Demo Rubin rod sags after 14.2 s (median of 5 trials, 13.1 to 15.8)."


def test_median_of_an_even_count_lies_between_the_middle_two():
    lane = results.lane_of([kept(0, sag, 30, 40, 50) for sag in (10, 11, 13, 20)], "sag")
    assert lane.median_s == pytest.approx(12.0)


def left_out_trials():
    """Trials that must not enter a median, each with the words that say why."""
    stopped = whole_trial()[:-1]
    stopped.append(entry("trial.abandoned", stopped[0]["subject"], 5, {"reason": "cracked"}))
    unknown = whole_trial()
    unknown[1]["body"] = stamp("sagged", -60, 0.1, page=OTHER_PAGE)
    doubled = whole_trial()
    doubled.append(pressed(doubled[0]["subject"], 6, stamp("round", 70)))
    find = whole_trial(piece="DEMO-17", consent=True)
    unkept = whole_trial()[:-1]
    return [(stopped, "stopped: cracked"), (unknown, "clock was set back"), (doubled, "incomplete|missing"), (find, "a piece of a find"), (unkept, "not kept yet")]


@pytest.mark.parametrize("case", range(5))
def test_what_is_left_out_says_why_and_does_not_move_the_median(case):
    entries, words = left_out_trials()[case]
    trial = trial_from(entries)
    why = results.why_left_out(trial, "sag")
    assert any(word in why for word in words.split("|"))
    assert results.lane_of([*FIVE, trial], "sag") == results.lane_of(FIVE, "sag")


def test_a_time_from_the_better_clock_counts_and_is_remarked():
    """Wall clock put on by 35 s while the page was in sight: its own clock says 10 s of glow, and that counts."""
    entries = whole_trial(at_s=(0, 14, 31, 45, 55))
    entries[4]["body"] = stamp("glow_gone", 90, 55)
    trial = trial_from(entries)
    assert results.lane_of([trial], "glow").median_s == pytest.approx(10.0)
    assert "clock was set" in results.remarks(trial)


@pytest.mark.parametrize("text", ["=1+1", "+1", "-1", "@SUM(A1)", "\t=1", "  =1", "\r=1"])
def test_no_cell_starts_a_formula(text):
    assert results.harmless(text)[0] == "'"


def test_csv_holds_what_was_entered():
    trial = kept(0, 14.25, 31, 45, 55.5, torch="=HYPERLINK()", operator='A "quoted", name')
    row = next(csv.DictReader(io.StringIO(results.csv_heading() + results.csv_line(trial))))
    assert (row["sag_s"], row["round_s"], row["out_s"], row["glow_s"]) == ("14.250", "31.000", "45.000", "10.500")
    assert row["torch"] == "'=HYPERLINK()" and row["operator"] == 'A "quoted", name'
    assert row["started_utc"] == "2026-09-21T14:13:20.000Z" and WALL_0 == 1_790_000_000_000
    assert (row["status"], row["consent"], row["mass_g"]) == ("kept", "", "2.0")


def test_csv_of_a_press_whose_start_is_missing():
    subject = str(uuid.uuid4())
    row = next(csv.DictReader(io.StringIO(results.csv_heading() + results.csv_line(trial_from([pressed(subject, 1, stamp("sagged", 14))])))))
    assert (row["trial_id"], row["status"], row["glass_name"]) == (subject, "incomplete", "")


def test_mandrel_text_has_a_field_for_each_stage():
    subject = str(uuid.uuid4())
    assert results.mandrel(trial_from([started(subject), pressed(subject, 1, stamp("sagged", 14.24))])) == "0|14.2|||"
    assert results.mandrel(kept(0, 14.2, 31, 45.5, 55.25)) == "0|14.2|31.0|45.5|9.8"


def test_every_time_lies_inside_the_picture_and_in_the_order_of_its_value():
    drawn = profile.picture(FIVE)
    sags = sorted((p.x, float(p.value)) for p in drawn["points"] if p.lane == "sag")
    assert [value for _x, value in sags] == [13.1, 13.9, 14.2, 15.0, 15.8]
    assert all(drawn["left"] <= p.x <= drawn["right"] for p in drawn["points"])
    assert [len(line.places) for line in drawn["lines"]] == [3] * 5


@pytest.mark.parametrize("times", [[1.0], [0.0, 0.1], [14.2, 14.2], [3, 40000]])
def test_scale_holds_its_times_with_few_ticks(times):
    scale, ticks = profile.scale_of(times)
    assert scale.low_s <= max(min(times), profile.SHORTEST_S) and max(times) <= scale.high_s
    assert 1 <= len(ticks) <= 9 and ticks == sorted(ticks)
    assert scale.x(min(times)) >= profile.LEFT and scale.x(max(times)) <= profile.WIDTH - profile.RIGHT


def test_one_line_a_piece_through_its_medians():
    """Three trials of one piece and two of another make two lines; the piece's own medians count them."""
    a = [kept(0, sag, 30, 40, 50, piece="K-7/3", consent=True) for sag in (13.0, 15.0, 14.0)]
    b = [kept(0, sag, 60, 70, 90, piece="K-7/4", consent=True) for sag in (20.0, 22.0)]
    drawn = profile.picture(a + b)
    assert [line.label for line in drawn["lines"]] == ["K-7/3", "K-7/4"]
    middle = sorted(p.x for p in drawn["points"] if p.lane == "sag")[1]
    assert drawn["lines"][0].places[0][0] == middle
    assert drawn["medians"] == [] and results.lane_of(a, "sag", "K-7/3").median_s == pytest.approx(14.0)


def test_no_trial_no_picture():
    assert profile.picture([]) is None
    assert results.count_sentence([]) == "No trial has arrived yet."
