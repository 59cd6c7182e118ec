"""What an entry may hold: every field is fed wrong types and limits; the rules are those of the wire format, not of our code."""

import copy
import uuid

import pytest

from server.errors import Refused
from server.trial.log import read_entry
from tests.entries import entry, stamp, started

SUBJECT = str(uuid.uuid4())
WRONG = {
    "id": [None, 1, "", "x" * 60, str(uuid.uuid4()), str(uuid.uuid4()).upper(), "01990000-0001-7000-8000-00000000000g", "\u0000" * 36],
    "kind": [None, 1, "trial.exploded", "trial", []],
    "subject": [None, 7, "x" * 36, "x" * 60],
    "n": [None, "1", 1.5, -1, True, 10**9],
    "device": [None, {}, "tablet"],
    "at_ms": [None, "1790000000000", 1.5, -1, 2**60, True],
    "body": [None, [], "{}", {}],
    "body.glass_key": [1, "x" * 121, "a\u0000b", True],
    "body.glass_name": [None, 1, "", "  ", "x" * 121, "a\nb", "\ud800"],
    "body.piece": ["", 3, "x" * 81, "DEMO\u00009"],
    "body.consent": ["yes", 1],
    "body.keeper": [1, "x" * 121],
    "body.mass_g": [None, "2.0", 0, -1, float("nan"), float("inf"), 1001, True],
    "body.preheat_c": [None, "500", float("nan"), -51, 1501],
    "body.torch": [None, 1, "x" * 501, "\u001b[0m"],
    "body.operator": [1, "x" * 81],
    "body.press": [None, {}, stamp("sagged", 1)],
    "body.press.wall_ms": [None, "1", float("nan"), float("-inf"), -1, True],
    "body.press.mono_ms": [None, "1", float("nan"), -1],
    "body.press.page": [None, 1, "page"],
    "body.press.was_hidden": [None, 0, "false"],
    "body.extra": [1],
    "extra": [1],
}
CASES = [(place, value) for place, values in WRONG.items() for value in values]


def changed(raw: dict, place: str, value) -> dict:
    """A copy of an entry with one place changed."""
    raw = copy.deepcopy(raw)
    *path, last = place.split(".")
    target = raw
    for key in path:
        target = target[key]
    target[last] = value
    return raw


@pytest.mark.parametrize(("place", "value"), CASES, ids=[f"{p}-{i}" for i, (p, _v) in enumerate(CASES)])
def test_wrong_values_are_refused_with_a_sentence(place, value):
    with pytest.raises(Refused) as caught:
        read_entry(changed(started(SUBJECT), place, value))
    assert caught.value.code == "invalid_entry"
    caught.value.message.encode()


@pytest.mark.parametrize("place", [p for p in WRONG if "extra" not in p])
def test_no_field_may_be_missing(place):
    raw = started(SUBJECT)
    *path, last = place.split(".")
    target = raw
    for key in path:
        target = target[key]
    del target[last]
    with pytest.raises(Refused):
        read_entry(raw)


@pytest.mark.parametrize("consent", [None, False])
def test_a_piece_of_a_find_needs_the_keepers_agreement(consent):
    with pytest.raises(Refused, match="keeper has agreed"):
        read_entry(started(SUBJECT, piece="DEMO-17", consent=consent))
    assert read_entry(started(SUBJECT, piece="DEMO-17", consent=True, glass_name="", glass_key=None)).body.consent is True


@pytest.mark.parametrize(
    ("kind", "good", "bad"),
    [
        ("trial.pressed", stamp("round", 3), stamp("flame_in", 3)),
        ("trial.taken_back", {"entry": "01990000-0001-7000-8000-000000000001"}, {"entry": "last"}),
        ("trial.noted", {"text": "grüner Rand – 3 Blasen"}, {"text": ""}),
        ("trial.abandoned", {"reason": "fell_off"}, {"reason": "bored"}),
        ("trial.kept", {}, {"by": "me"}),
    ],
)
def test_each_kind_has_its_own_body(kind, good, bad):
    assert read_entry(entry(kind, SUBJECT, 1, good)).kind == kind
    with pytest.raises(Refused):
        read_entry(entry(kind, SUBJECT, 1, bad))


def test_whole_numbers_may_come_as_2_or_2_0():
    two = changed(started(SUBJECT), "body.mass_g", 2)
    assert read_entry(two).body.mass_g == 2.0
