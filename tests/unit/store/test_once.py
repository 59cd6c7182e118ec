"""The seal of an entry: SHA-256 over JSON whose names are in order and which holds no blanks and nothing but ASCII, as seals were always made. Reckoned here by the standard library alone."""

import hashlib
import json

from hypothesis import given
from hypothesis import strategies as st

from server.store import once

words = st.text(st.characters(exclude_categories=["Cs"]), max_size=12)
values = st.recursive(st.none() | st.booleans() | st.integers(-(2**53), 2**53) | st.floats(allow_nan=False, allow_infinity=False) | words, lambda inner: st.lists(inner, max_size=4) | st.dictionaries(words, inner, max_size=4), max_leaves=12)
bodies = st.dictionaries(words, values, max_size=5)


def by_hand(told: dict) -> str:
    return hashlib.sha256(json.dumps(told, sort_keys=True, separators=(",", ":"), ensure_ascii=True).encode()).hexdigest()


def told_of(body: dict, **more) -> dict:
    return {"id": "018f", "kind": "trial.kept", "subject": "é", "n": 3, "device": "d", "at_ms": 1_790_000_000_000, "body": body, **more}


@given(bodies)
def test_text_and_seal_in_one_pass_are_those_of_two(body):
    text, seal = once.text_and_seal(told_of(body))
    assert seal == by_hand(told_of(body)) == once.seal(told_of(body))
    assert json.loads(text) == body


def test_an_entry_that_carries_more_is_sealed_whole():
    told = told_of({"a": 1}, extra=2)
    assert once.text_and_seal(told) == ('{"a":1}', by_hand(told))


def test_a_seal_of_before_is_the_seal_of_now():
    """Worked with sha256sum."""
    told = {"id": "a", "kind": "b", "subject": "c", "n": 0, "device": "d", "at_ms": 1, "body": {"why": "z"}}
    assert once.text_and_seal(told)[1] == "a3a7b4cc4d40fc3bf13e317e390f3c632ffd70e28232efc9a06465238a5f0f8a"
