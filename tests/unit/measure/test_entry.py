"""Entries of measured tests: what is taken, and what is refused and where."""

import base64

import pytest

from server.errors import Refused
from server.measure.kinds import known_tests, quantities
from server.measure.log import accept
from tests.entries import entry
from tests.finds import JFIF, jpeg_of, segment
from tests.measured import READINGS, SETUPS, glass, photo, read, start, whole

SUBJECT = "018f0000-0000-4000-8000-0000000000e1"
PIECE = glass("Demo natron glass", piece="DEMO-17", piece_id="018f0000-0000-7000-8000-0000000000f1")


@pytest.fixture
def session(store):
    with store.write() as opened:
        yield opened


def refusal(session, raw) -> str:
    """The sentence with which an entry is refused."""
    with pytest.raises(Refused) as refused:
        accept(session, raw, 1)
    assert refused.value.code == "invalid_entry"
    return refused.value.message


@pytest.mark.parametrize("test", SETUPS)
def test_a_whole_test_is_stored_once(session, test):
    entries = [*whole(test), photo(SUBJECT, 20), entry("measure.noted", SUBJECT, 21, {"text": "invented"}), entry("measure.abandoned", SUBJECT, 22, {"reason": "it broke"})]
    assert [accept(session, raw, 1) for raw in entries] == ["stored"] * len(entries)
    assert [accept(session, raw, 1) for raw in entries] == ["same"] * len(entries)


def test_a_why_that_is_empty_and_one_that_is_left_out_are_one(session):
    raw = read(SUBJECT, 1, "1", "bow_mm", 2)
    assert accept(session, raw, 1) == "stored"
    assert accept(session, {**raw, "body": {**raw["body"], "why": "", "value": 2.0}}, 1) == "same"


@pytest.mark.parametrize("test", SETUPS)
def test_every_limit_and_word_of_the_list_is_taken_and_nothing_beyond(session, test):
    letters = {"a1": ("A", "L")}
    for name, about in known_tests()[test]["quantities"].items():
        place = "a1" if test == "fuse" else "1"
        if "min" in about:
            good, bad = (about["min"], about["max"]), (about["min"] - 0.01, about["max"] + 0.01, "A", float("nan"), float("inf"))
        else:
            good, bad = (letters[place] if about.get("letters") else tuple(about["words"])), ("M", "nothing", 1.0)
        assert {accept(session, read(SUBJECT, 1, place, name, said), 1) for said in (*good, None)} == {"stored"}
        for said in bad:
            assert "cannot be taken" in refusal(session, read(SUBJECT, 1, place, name, said)), (name, said)


@pytest.mark.parametrize(("place", "quantity"), [
    ("0", "before_1_mm"), ("10", "before_1_mm"), ("7", "bow_mm"), ("g1", "mass_g"), ("a9", "mass_g"), ("1", "mass_g"), ("a1", "bow_mm"), ("9", "halo"), ("1", "weather"), ("1\n", "bow_mm"), ("", "bow_mm"),
])
def test_a_place_or_a_quantity_that_no_test_has_is_refused(session, place, quantity):
    assert "cannot be taken: body" in refusal(session, read(SUBJECT, 1, place, quantity, 2.0))


@pytest.mark.parametrize("body", [{"value": 1.0, "word": "A"}, {"value": None, "word": None}, {"value": True, "word": None}, {"value": "1", "word": None}, {"value": 1.0, "word": None, "more": 1}, {"value": 1.0, "word": None, "why": "x" * 201}])
def test_a_reading_is_either_a_number_or_a_word(session, body):
    assert "cannot be taken" in refusal(session, entry("measure.read", SUBJECT, 1, {"place": "1", "quantity": "bow_mm", **body}))


@pytest.mark.parametrize(("test", "change"), [
    ("pull", {"setup": {**SETUPS["pull"], "pattern": "A"}}), ("pull", {"setup": {**SETUPS["pull"], "pattern": "ABC"}}), ("pull", {"setup": {**SETUPS["pull"], "pattern": "AB" * 5}}),
    ("pull", {"setup": {**SETUPS["pull"], "peak_c": 700.0}}), ("pull", {"setup": {**SETUPS["pull"], "pull_c": "hot"}}), ("pull", {"setup": {**SETUPS["pull"], "pull_c": True}}),
    ("fuse", {"setup": {"rise_c_h": 0.0}}), ("fuse", {"setup": {**SETUPS["fuse"], "reference": "C"}}), ("fuse", {"setup": {**SETUPS["fuse"], "shelf": "sand"}}), ("strip", {"setup": {**SETUPS["strip"], "plate": "perhaps"}}),
    ("thread", {"glasses": [glass("one")]}), ("thread", {"glasses": [glass("x")] * 3}), ("pull", {"glasses": [glass("one")]}), ("fuse", {"glasses": [glass("x")] * 13}),
    ("fuse", {"glasses": [glass("  ")]}), ("fuse", {"glasses": [glass("x", mass_g=0.0)]}), ("fuse", {"glasses": []}), ("fuse", {"title": "x" * 81}), ("fuse", {"test": "melt"}), ("fuse", {"operator": ""}),
])  # fmt: skip
def test_a_start_that_cannot_be_done_is_refused(session, test, change):
    assert "cannot be taken: " in refusal(session, start(test, **change))


@pytest.mark.parametrize("consent", [None, False])
@pytest.mark.parametrize("piece", [PIECE, {**PIECE, "piece_id": None}, {**PIECE, "piece": None}])
def test_a_piece_of_a_find_needs_its_keepers_agreement(session, piece, consent):
    glasses = [glass("Modern float glass", "modern-float"), piece]
    assert "keeper has agreed" in refusal(session, start("pull", glasses=glasses, consent=consent))
    assert accept(session, start("pull", glasses=glasses, consent=True), 1) == "stored"


def test_a_start_is_the_first_entry(session):
    assert "first" in refusal(session, {**start("thread"), "n": 1})


@pytest.mark.parametrize("body", [
    {"jpeg": base64.b64encode(b"\x89PNG and more").decode()}, {"jpeg": "not base64!!"}, {"jpeg": "AAAA" * 87_501}, {"width": 1281}, {"height": 0}, {"place": "z9"}, {"caption": "a\nb"},
    {"jpeg": jpeg_of(JFIF, segment(0xE1, b"Exif\0\0 demo place"))}, {"jpeg": jpeg_of(JFIF, segment(0xFE, b"demo program"))},
])  # fmt: skip
def test_a_photo_is_a_small_jpeg(session, body):
    assert "cannot be taken" in refusal(session, photo(SUBJECT, 3, **body))
    assert accept(session, photo(SUBJECT, 3, place=""), 1) == "stored"


def test_no_two_tests_share_a_quantity_and_the_examples_name_them_all():
    names = [name for kind in known_tests().values() for name in kind["quantities"]]
    assert len(names) == len(set(names)) == len(quantities())
    assert {quantity for readings in READINGS.values() for _place, quantity in readings} <= set(names)


SESSION = "018f0000-0000-7000-8000-0000000000f2"


def dish(run: int, code: str, letter: str, place: str = "") -> dict:
    return {"run": run, "code": code, "letter": letter, "place": place}


def test_a_test_of_a_session_names_its_dishes_and_one_without_keeps_its_seal(session):
    fuse, pull = start("fuse", session=SESSION, dishes=[dish(0, "AK", "A", "a1"), dish(1, "CD", "B", "c1")]), start("pull", session=SESSION, dishes=[dish(2, "EF", "B")])
    plain, telling_nothing = start("pull"), start("pull", session=None, dishes=[])
    assert [accept(session, raw, 1) for raw in (fuse, pull, plain)] == ["stored"] * 3
    assert accept(session, {**telling_nothing, "id": plain["id"], "subject": plain["subject"]}, 1) == "same"


@pytest.mark.parametrize(("test", "more", "why"), [
    ("pull", {"session": SESSION}, "names its dishes"),
    ("pull", {"dishes": [dish(0, "AK", "B")]}, "names its dishes"),
    ("pull", {"session": SESSION, "dishes": [dish(0, "AK", "C")]}, "none of the glasses"),
    ("pull", {"session": SESSION, "dishes": [dish(0, "AK", "B", "1")]}, "of one dish"),
    ("pull", {"session": SESSION, "dishes": [dish(0, "AK", "B"), dish(1, "CD", "A")]}, "of one dish"),
    ("fuse", {"session": SESSION, "dishes": [dish(0, "AK", "A")]}, "no square of the board"),
    ("fuse", {"session": SESSION, "dishes": [dish(0, "AK", "A", "a1"), dish(1, "CD", "B", "a1")]}, "on one square"),
    ("fuse", {"session": SESSION, "dishes": [dish(0, "AK", "A", "a1"), dish(0, "CD", "B", "c1")]}, "the same run"),
    ("fuse", {"session": SESSION, "dishes": [dish(0, "", "A", "a1")]}, "code"),
])  # fmt: skip
def test_dishes_that_cannot_be_are_refused(session, test, more, why):
    assert why in refusal(session, start(test, **more))


def test_a_piece_lies_in_a_test_once(session):
    assert "lies in a test once" in refusal(session, start("fuse", glasses=[PIECE, PIECE], consent=True))
