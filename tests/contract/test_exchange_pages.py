"""The page of other machines: what was not taken in whole is not called done."""

import json

import pytest

from tests.client import Client
from tests.entries import whole_trial


@pytest.mark.parametrize(("sent", "words"), [
    (whole_trial(), ("Done.", "6 new")),
    ([*whole_trial(), {"kind": "weather.noted"}], ("Not all of it.", "6 new", "1 were NOT taken in")),
    ([{"kind": "weather.noted"}], ("Not done.", "0 new", "1 were NOT taken in")),
], ids=["all", "some", "none"])  # fmt: skip
def test_what_became_of_a_file_is_said_as_it_is(app, sent, words):
    file = json.dumps({"isokom_entries": 1, "entries": sent}).encode()
    told = Client(app).post("/exchange/unpack", files={"pack": ("a.json", file, "application/json")})
    assert told.status_code == 200 and all(word in told.text for word in words)
    assert sum(f"<strong>{word}</strong>" in told.text for word in ("Done.", "Not all of it.", "Not done.")) == 1
