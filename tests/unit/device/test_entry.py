"""What a device may say of itself: typed, bounded, and the last word of each device is what the desk shows."""

import pytest

from server.device.log import latest
from server.errors import Refused
from server.device.entry import KINDS
from server.store.log import typed
from server.sync.push import Batch, push
from tests.entries import DEVICE, WALL_0, entry
from tests.finds import OTHER_DEVICE

CHECK = {"key": "writing", "label": "Writing to disk", "result": "good", "words": "About 15 ms.", "figure": 15, "unit": "ms"}
BODY = {"name": "Demo tablet", "agent": "Demo browser", "checks": [CHECK]}


def self_test(body: dict = BODY, at_ms: int = WALL_0, device: str = DEVICE) -> dict:
    return entry("device.tested", device, 0, body, at_ms, device)


@pytest.mark.parametrize("change", [
    {"result": "great"}, {"key": "No such key"}, {"figure": float("nan")}, {"figure": "15"}, {"words": "x" * 301}, {"words": "a\u0000b"}, {"more": 1}, {"label": ""}, {"figure": 1e300},
])
def test_what_is_no_check_is_refused(change):
    with pytest.raises(Refused):
        typed(KINDS, self_test({**BODY, "checks": [{**CHECK, **change}]}))


@pytest.mark.parametrize("body", [{**BODY, "checks": []}, {**BODY, "checks": [CHECK] * 41}, {**BODY, "agent": "x" * 301}, {"name": "", "checks": [CHECK]}])
def test_what_is_no_self_test_is_refused(body):
    with pytest.raises(Refused):
        typed(KINDS, self_test(body))


def test_the_last_word_of_each_device_counts(store):
    worse = {**BODY, "checks": [{**CHECK, "result": "bad"}]}
    entries = [self_test(at_ms=WALL_0 + 9), self_test(worse), self_test(worse, device=OTHER_DEVICE, at_ms=WALL_0 + 20)]
    with store.write() as session:
        assert {one.verdict for one in push(session, Batch(entries=entries), 1)} == {"stored"}
    with store.read() as session:
        found = latest(session)
    assert [(one["device"], one["checks"][0]["result"]) for one in found] == [(OTHER_DEVICE, "bad"), (DEVICE, "good")]
