"""The stand-in pages over HTTP: both directions, own glasses, margins, and how they fail."""

import pytest

from server.glass.catalog import glasses
from tests.client import Client
from tests.entries import entry, new_id
from tests.unit.glass.test_own import BODY

CRITERIA = ("Softening", "Working", "Range", "Stiffening", "Expansion")


@pytest.fixture
def client(app):
    return Client(app)


def send_own(client, **changes) -> str:
    """Key of an own glass that the desk has taken in."""
    raw = entry("glass.added", new_id(), 0, {**BODY, **changes})
    assert client.post("/sync/push", json={"entries": [raw]}).json()["verdicts"][0]["verdict"] == "stored"
    return f"own/{raw['subject']}"


def test_choice_of_a_glass_lists_all_by_side(client):
    send_own(client, name="Chip of a <i>beaker</i> (invented)")
    text = client.get("/stand-ins").text
    for label in ("Own glasses", "Old glasses", "Modern glasses", "Reference glasses"):
        assert f'<optgroup label="{label}">' in text
    assert text.count("<option ") == len(glasses()) + 2
    assert "Chip of a &lt;i&gt;beaker" in text and "needs the desk" in text


def test_every_catalogue_glass_has_its_page(client):
    for glass in glasses().values():
        answer = client.get("/stand-ins", params={"g": glass.key})
        assert answer.status_code == 200, glass.key
        has_rows = '<ol class="matches">' in answer.text
        assert has_rows or "Nothing can be ranked against this glass" in answer.text, glass.key


def test_glass_page_links_to_its_stand_ins(client):
    assert 'href="/stand-ins?g=lit-himt"' in client.get("/glass/lit-himt").text


def test_an_old_glass_finds_modern_ones_and_a_modern_one_old_ones(client):
    old = client.get("/stand-ins", params={"g": "lit-rom-mn"}).text
    assert "Stand-ins for Roman manganese-decoloured" in old
    assert "Float (window)" in old and "Apollonia" not in old and "SRM 620" not in old
    assert all(f'<span class="criterion">{label}</span>' in old for label in CRITERIA)
    assert "SRM 620" in client.get("/stand-ins", params={"g": "lit-rom-mn", "references": "true"}).text
    modern = client.get("/stand-ins", params={"g": "modern-float"}).text
    assert "typical stands in for" in modern and "Apollonia" in modern and "Container soda-lime" not in modern
    assert "as a table" in modern


def test_an_own_glass_is_a_candidate_and_can_be_switched(client):
    key = send_own(client, name="Rod from the drawer (invented)", period="modern")
    assert "Rod from the drawer" in client.get("/stand-ins", params={"g": "lit-rom-mn"}).text
    page = client.get("/stand-ins", params={"g": key}).text
    assert "Rod from the drawer (invented) stands in for" in page and f"g={key}&amp;side=ancient" in page
    assert "Stand-ins for Rod from the drawer" in client.get("/stand-ins", params={"g": key, "side": "ancient"}).text


def test_wide_margins_call_alike_and_none_is_hidden(client):
    wide = {"softening": 300, "working": 400, "width": 400, "steepness": 100, "expansion": 50}
    text = client.get("/frag/stand-ins", params={"g": "lit-rom-mn", **wide}).text
    assert "<html" not in text and "All of it is sure within your margins" in text
    tight = client.get("/frag/stand-ins", params={"g": "lit-rom-mn", **{k: 1 for k in wide}}).text
    assert "cannot say yet" in tight and "Not enough" in tight


def test_cautions_stand_where_a_test_is_proposed(client):
    text = client.get("/stand-ins", params={"g": "lit-rom-sb"}).text
    assert "ask its keeper first" in text and "Antimony or arsenic" in text
    assert "hotter" in client.get("/stand-ins", params={"g": "bar-hlla-mean"}).text.split("Before a test")[0]


@pytest.mark.parametrize(("params", "word"), [({"softening": "soft"}, "Softening"), ({"expansion": "0"}, "Expansion"), ({"steepness": "nan"}, "Stiffening"), ({"width": ""}, "Range")])
def test_nonsense_margins_are_refused_with_the_field_named(client, params, word):
    for headers, shape in (({"HX-Request": "true"}, 'role="alert"'), ({}, "<h1>")):
        answer = client.get("/frag/stand-ins", params={"g": "lit-rom-mn", **params}, headers=headers)
        assert answer.status_code == 422 and word in answer.text and shape in answer.text
    told = client.get("/stand-ins", params={"g": "lit-rom-mn", **params}, headers={"accept": "application/json"}).json()
    assert (told["code"], told["field"]) == ("bad_margin", next(iter(params)))


@pytest.mark.parametrize(("params", "status"), [({"g": "atlantis"}, 404), ({"g": "own/nobody"}, 404), ({"g": "lit-rom-mn", "side": "left"}, 422), ({"g": "x" * 200}, 422)])
def test_unknown_glasses_and_sides_are_refused(client, params, status):
    assert client.get("/stand-ins", params=params).status_code == status


def test_nothing_is_kept_in_advance_so_an_unseen_page_says_that_it_needs_the_desk(client):
    assert "Ranking needs the desk" in client.get("/stand-ins").text
    assert '"/stand-ins"' not in client.get("/sw.js").text.split(";\n", 1)[0]
