"""The words of the cautions, and the entries that they were read."""

import pytest

from server.caution import caution
from server.errors import Refused
from tests.client import Client
from tests.entries import entry, new_id


def read(**body) -> dict:
    return entry("caution.read", new_id(), 0, {"caution": "flame", "wording": caution.texts()["flame"]["wording"], "page": "/bench/new", **body})


def test_every_caution_defers_to_local_rules_and_speaks_shortly():
    for key, one in caution.texts().items():
        assert "local codes" in one["last"].lower() and "emergency" in one["last"], key
        assert 1 <= len(one["lines"]) <= 4 and all(len(text) < 260 for text in one["lines"]), key
    assert len({one["wording"] for one in caution.texts().values()}) == len(caution.texts())


# What the issue asks to be named where it can hurt; the words stand in data/cautions.json.
@pytest.mark.parametrize(("key", "named"), [
    ("flame", ("spectacles", "flies", "leaks", "carbon monoxide", "lead")), ("kiln", ("gloves", "dust")), ("pull", ("goggles",)), ("thread", ("goggles",)),
    ("cutting", ("respirator", "lead", "antimony", "cobalt", "wet")), ("strip", ("goggles",)),
])
def test_what_can_hurt_is_named(key, named):
    words = " ".join(caution.texts()[key]["lines"]).lower()
    assert [word for word in named if word not in words] == []


@pytest.mark.parametrize("change", [{"wording": "x"}, {"caution": ""}, {"page": 3}, {"more": 1}])
def test_a_reading_that_cannot_be_is_refused(store, change):
    with store.write() as session, pytest.raises(Refused):
        caution.accept(session, read(**change), 1)


def test_the_page_tells_what_was_read_when(app):
    with app.state.store.write() as session:
        caution.accept(session, read(), 1)
        caution.accept(session, read(wording="0" * 12), 1)
    html = Client(app).get("/cautions").text
    assert html.count("<td>At the flame") == 2 and html.count("(other words)") == 1
