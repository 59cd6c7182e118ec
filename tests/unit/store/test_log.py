"""The shared log: once, in order, by kind, and refusals in words."""

from typing import Literal

import pytest
from pydantic import TypeAdapter

from server.errors import Differs, Refused
from server.store import log
from tests.entries import entry


class Said(log.Strict):
    """An invented kind."""

    text: log.line(20, 1)


class SaidEntry(log.Envelope):
    kind: Literal["demo.said"]
    body: Said


KINDS = TypeAdapter(SaidEntry)
SUBJECT = "018f0000-0000-7000-8000-0000000000e1"


def take(session, raw, received_ms=5):
    return log.accept(session, KINDS, raw, received_ms)


def test_an_entry_is_stored_once_and_read_as_it_was_sent(store):
    raw = entry("demo.said", SUBJECT, 0, {"text": "Sagged like honey"})
    with store.write() as session:
        assert take(session, raw) == "stored"
        assert take(session, dict(reversed(raw.items()))) == "same"
        with pytest.raises(Differs):
            take(session, raw | {"at_ms": raw["at_ms"] + 1})
        read = log.entries(session, "demo")
        assert [{k: v for k, v in e.items() if k not in ("seq", "received_ms")} for e in read] == [raw]
        assert log.last_seq(session, "demo") == read[0]["seq"] > 0
        assert (log.last_seq(session, "dem"), log.entries(session, "dem"), log.entries(session, "demo", subject="other")) == (0, [], [])


def test_the_wall_clock_orders_across_devices(store):
    later, sooner = (entry("demo.said", SUBJECT, n, {"text": text}, at_ms=at) for n, text, at in ((0, "later", 2000), (4, "sooner", 1000)))
    with store.write() as session:
        for raw in (later, sooner):
            take(session, raw)
        assert [e["body"]["text"] for e in log.entries(session, "demo")] == ["sooner", "later"]


@pytest.mark.parametrize(("change", "place"), [
    ({"body": {"text": "  "}}, "body.text"), ({"body": {"text": "a\nb"}}, "body.text"), ({"body": {"text": "x", "more": 1}}, "body.more"), ({"body": {"text": 3}}, "body.text"),
    ({"id": "018f0000-0000-4000-8000-0000000000e1"}, "id"), ({"n": -1}, "n"), ({"n": True}, "n"), ({"at_ms": 1.5}, "at_ms"), ({"device": "x"}, "device"),
])
def test_what_cannot_be_taken_is_refused_with_its_place(store, change, place):
    raw = entry("demo.said", SUBJECT, 0, {"text": "x"}) | change
    with store.write() as session, pytest.raises(Refused, match=rf"cannot be taken: {place}: ") as refused:
        take(session, raw)
    assert refused.value.code == "invalid_entry"
