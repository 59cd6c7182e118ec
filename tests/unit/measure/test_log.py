"""Entries gathered into a test: the order of arrival never matters, the latest reading wins, nothing is lost."""

import json

from hypothesis import given
from hypothesis import strategies as st

from server.measure.log import accept, all_measured, entries_of, measured_from
from tests.entries import WALL_0, entry
from tests.measured import READINGS, SETUPS, glass, photo, read, start, whole

FIRST = start("pull")
SUBJECT = FIRST["subject"]
ENTRIES = [
    FIRST,
    read(SUBJECT, 1, "2", "before_1_mm", 6.0),
    read(SUBJECT, 2, "1", "before_1_mm", 6.1, at_ms=WALL_0 - 3_600_000),  # the tablet's clock was set back in between
    read(SUBJECT, 3, "2", "before_1_mm", 6.2, at_ms=WALL_0 - 3_600_000),
    read(SUBJECT, 4, "2", "fault", "bubble"),
    read(SUBJECT, 5, "2", "fault", None),
    entry("measure.noted", SUBJECT, 6, {"text": "invented"}),
    photo(SUBJECT, 7),
    entry("measure.kept", SUBJECT, 8, {}),
    read(SUBJECT, 9, "1", "before_1_mm", 5.9, why="read the wrong line"),
]


@given(st.permutations(ENTRIES), st.lists(st.sampled_from(ENTRIES), max_size=4))
def test_the_order_of_arrival_and_repeats_do_not_matter(shuffled, again):
    assert measured_from([*shuffled, *again]) == measured_from(ENTRIES)


def test_the_latest_reading_wins_by_the_tablets_own_count():
    made = measured_from(ENTRIES)
    assert made.readings == {("1", "before_1_mm"): 5.9, ("2", "before_1_mm"): 6.2}
    assert list(made.history) == [("1", "before_1_mm"), ("2", "before_1_mm"), ("2", "fault")]
    assert [(c.said, c.after_keep, c.why) for c in made.history["1", "before_1_mm"]] == [(6.1, False, ""), (5.9, True, "read the wrong line")]
    assert [c.said for c in made.history["2", "fault"]] == ["bubble", None]
    assert (made.status, made.notes, made.strays) == ("kept", ("invented",), 0)
    assert [(p.place, p.width, p.entry) for p in made.photos] == [("1", 640, ENTRIES[7]["id"])]


@given(st.sampled_from(sorted(SETUPS)), st.data())
def test_any_part_of_a_test_tells_no_more_than_it_holds(test, data):
    entries = whole(test)
    some = data.draw(st.lists(st.sampled_from(entries), min_size=1, unique_by=lambda e: e["id"]))
    made = measured_from(some)
    kinds = {e["kind"] for e in some}
    assert made.status == ("incomplete" if "measure.started" not in kinds else "kept" if "measure.kept" in kinds else "running")
    held = {(e["body"]["place"], e["body"]["quantity"]) for e in some if e["kind"] == "measure.read"}
    assert set(made.readings) == (held if made.test else set())
    assert made.readings.items() <= READINGS[test].items()


def test_status_words():
    assert measured_from(ENTRIES[:3]).status == "running"
    assert measured_from([*ENTRIES, entry("measure.abandoned", SUBJECT, 10, {"reason": "it broke"})]).status == "stopped"
    assert measured_from(ENTRIES[1:]).status == "incomplete"


def test_readings_of_another_test_are_counted_and_left_out():
    made = measured_from([*ENTRIES, read(SUBJECT, 10, "1", "bow_mm", 4.0)])
    assert made.strays == 1 and made.readings == measured_from(ENTRIES).readings


def test_what_was_not_answered_at_the_start_is_the_usual():
    made = measured_from([start("pull", setup={})])
    assert made.setup == {"pattern": "ABA", "u_pull_c": 30, "reading_sd_mm": 0.05}
    assert measured_from([start("strip", setup={})]).setup == {"piece": "A", "path_mm": 3, "plate": "no"}


def test_letters_of_places():
    three = [glass("one"), glass("two"), glass("three")]
    pull = measured_from([start("pull", glasses=three, setup={"pattern": "ACBA"})])
    assert [pull.letter_at(p) for p in ("1", "2", "3", "4", "5", "a1")] == ["A", "C", "B", "A", "", ""]
    assert (pull.glass("C")["name"], pull.glass("D"), pull.glass("")) == ("three", None, None)
    fuse = measured_from(whole("fuse"))
    assert [fuse.letter_at(p) for p in ("a1", "c1", "b2")] == ["A", "B", ""]
    assert measured_from(whole("strip")).letter_at("1") == "A" and measured_from(whole("thread")).letter_at("1") == ""


def test_stored_and_read_again(store):
    with store.write() as session:
        for raw in reversed(ENTRIES):
            accept(session, raw, 7)
        read_again = entries_of(session, SUBJECT)
        assert measured_from(read_again) == measured_from(ENTRIES)
        [listed] = all_measured(session)
    assert listed.readings == measured_from(ENTRIES).readings and listed.photos == ()
    assert json.dumps([e["n"] for e in read_again]) == json.dumps(list(range(10)))
