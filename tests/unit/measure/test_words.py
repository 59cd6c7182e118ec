"""A measured test in words, as a table, and as CSV."""

import csv
import io

import pytest

from server.measure import words
from server.measure.kinds import known_tests
from server.measure.log import measured_from
from tests.entries import entry
from tests.measured import READINGS, SETUPS, glass, read, start, whole


def rows_of(*tests) -> list[dict]:
    """The CSV, read again by the standard library."""
    return list(csv.DictReader(io.StringIO(words.as_csv(tests))))


@pytest.mark.parametrize("test", SETUPS)
def test_every_reading_is_a_row_with_its_glass_and_unit(test):
    made = measured_from(whole(test, operator="=cmd()"))
    rows = rows_of(made)
    assert {(r["place"], r["quantity"]): float(r["value"]) if r["value"] else r["word"] for r in rows} == READINGS[test]
    assert {r["operator"] for r in rows} == {"'=cmd()"} and {r["status"] for r in rows} == {"kept"}
    units = {r["quantity"]: r["unit"] for r in rows}
    assert units == {q: known_tests()[test]["quantities"][q].get("unit", "") for q in units}
    named = {r["place"]: (r["letter"], r["glass_name"]) for r in rows}
    assert named[max(named)] == {"pull": ("A", "Modern float glass"), "thread": ("", ""), "fuse": ("B", "Demo natron glass"), "strip": ("A", "Modern float glass")}[test]


def test_a_change_and_a_reading_taken_back_are_told():
    first = start("thread", title="-1 is no sum")
    subject = first["subject"]
    made = measured_from([first, read(subject, 1, "1", "bow_mm", 2.0), entry("measure.kept", subject, 2, {}), read(subject, 3, "1", "bow_mm", 2.25, why="@ruler slipped"), read(subject, 4, "1", "inside", "A"), read(subject, 5, "1", "inside", None)])
    inside, bow = rows_of(made)
    assert (bow["value"], bow["readings_made"], bow["why"], bow["title"]) == ("2.25", "2", "'@ruler slipped", "'-1 is no sum")
    assert (inside["value"], inside["word"], inside["readings_made"]) == ("", "", "2")
    told = words.table(made)
    assert [head[0] for head in told["heads"]] == ["inside", "bow_mm"]
    assert told["rows"] == [("Thread 1", [("–", True), ("2.25", True)])]


def test_entries_in_words():
    first = start("pull")
    subject = first["subject"]
    entries = [first, read(subject, 1, "2", "after_1_mm", 3.9, why="read the wrong line"), read(subject, 2, "2", "fault", "bubble"), read(subject, 3, "2", "fault", None), read(subject, 4, "1", "bow_mm", 3.0), entry("measure.noted", subject, 5, {"text": "a draught"})]
    made = measured_from(entries)
    assert [words.entry_words(made, e) for e in entries] == [
        "Set up", "Chip 2 (B), after: 3.90 mm. Why: read the wrong line", "Chip 2 (B), fault: A bubble", "Chip 2 (B), fault: taken back", "Reading: bow_mm at 1", "Note: a draught",
    ]  # fmt: skip


def test_names_and_setup():
    made = measured_from([start("fuse", glasses=[glass("one"), glass("two", piece="DEMO-9"), glass("three"), glass("four")], consent=True)])
    assert words.name_of(made) == "Fuse test of one and DEMO-9 (taken for two) and three …"
    assert ("What they lie on", "Kiln wash") in words.setup_rows(made) and ("Highest heat", "760 °C") in words.setup_rows(made)
    lost = measured_from([entry("measure.kept", made.id, 3, {})])
    assert words.name_of(lost) == "A test whose start is missing" and words.setup_rows(lost) == [] and words.table(lost) == {"heads": [], "rows": []}
    assert words.as_csv([lost]).count("\n") == 1
    assert words.count_sentence([made, lost]) == "2 measured tests: 1 not kept yet, 1 still missing entries."
    assert words.count_sentence([]) == "No measured test has arrived yet."
