"""The pages of making over HTTP: what the desk reckons, what it refuses, and what a made glass tells of itself."""

import html
import re

import pytest

from server.access.rights import BENCH, GUEST, may
from tests.client import Client
from tests.entries import WALL_0, entry, new_id

SAND = {"name": "sand", "wt": {"SiO2": 100.0}}
SODA = {"name": "soda", "wt": {"Na2O": 58.48}}
LIME = {"name": "lime", "wt": {"CaO": 56.03}}
ASKED = {"wt": {"SiO2": 74.0, "Na2O": 16.0, "CaO": 10.0}, "glass_g": 100.0, "materials": [SAND, SODA, LIME]}


@pytest.fixture
def client(app):
    return Client(app)


@pytest.mark.parametrize("path", ["/make/colour", "/make/blend", "/make/kiln", "/make/firing", "/make/batch", "/make/compounds.json", "/make/materials.json", "/make/anneal.json", "/make/firings.json"])
def test_every_page_answers_and_is_not_a_guests(client, path):
    assert client.get(path).status_code == 200
    assert may(BENCH, "GET", path) and not may(GUEST, "GET", path)


def test_a_batch_is_reckoned_and_nothing_of_it_is_stored(client):
    """By hand: 74 g of sand, 16/0.5848 of soda ash, 10/0.5603 of limestone."""
    found = client.post("/make/batch.json", json=ASKED)
    assert found.status_code == 200
    assert {one["name"]: round(one["grams"], 1) for one in found.json()["parts"]} == {"sand": 74.0, "soda": 27.4, "lime": 17.8}
    assert found.json()["lacking"] == [] and client.get("/make/firings.json").json() == {"entries": []}
    assert may(BENCH, "POST", "/make/batch.json") and not may(GUEST, "POST", "/make/batch.json")


@pytest.mark.parametrize("change", [
    {"wt": {"Unobtainium": 3.0}}, {"wt": {}}, {"wt": {"SiO2": -1.0}}, {"glass_g": 0.0}, {"glass_g": 1e9}, {"materials": []}, {"materials": [SAND] * 41}, {"materials": [{**SAND, "most_g": -1}]},
    {"materials": [{**SAND, "wt": {"SiO2": "much"}}]}, {"materials": [{"name": "water", "wt": {}}]}, {"more": 1},
])
def test_what_cannot_be_a_batch_is_refused_in_the_one_shape(client, change):
    told = client.post("/make/batch.json", json=ASKED | change)
    assert told.status_code == 422, told.text
    assert {"title", "status", "detail", "code"} <= set(told.json())


def made_glass(**more) -> dict:
    body = {
        "name": "Demo blue (invented)", "family": "", "period": "", "region": "", "source": "", "note": "", "surface": "not stated", "replaces": "",
        "amounts": [{"name": "SiO2", "text": "70", "unit": "wt"}, {"name": "Na2O", "text": "20", "unit": "wt"}, {"name": "CaO", "text": "10", "unit": "wt"}],
        "made": {"glasses": [{"key": "fre-levii-mean", "name": "<b>Demo</b> base", "mass_g": 20.0}], "compounds": [{"compound": "malachite", "mass_g": 0.28, "purity": 0.9}]}, **more,
    }
    return entry("glass.added", new_id(), 0, body, WALL_0)


def text_of(page) -> str:
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", page.text)).split())


def test_a_made_glass_tells_what_it_is_made_of_and_goes_on_as_it_came(client):
    told = made_glass()
    assert [v["verdict"] for v in client.post("/sync/push", json={"entries": [told]}).json()["verdicts"]] == ["stored"]
    assert [v["verdict"] for v in client.post("/sync/push", json={"entries": [told]}).json()["verdicts"]] == ["same"]
    page = client.get(f"/glass/own/{told['subject']}")
    assert "Made of 20 g <b>Demo</b> base and 0.28 g basic copper carbonate of 90.0 %" in text_of(page)
    assert "<b>Demo</b>" not in page.text and '/glass/fre-levii-mean' in page.text
    (handed,) = [e for e in client.get("/sync/feed.json").json()["entries"] if e["subject"] == told["subject"]]
    assert handed["body"]["made"] == told["body"]["made"]


REPLICA = {"glasses": [], "compounds": [], "materials": [{"name": "Quartz sand, pure", "mass_g": 375.5, "wt": {"SiO2": 99.6, "Al2O3": 0.2}}, {"name": "Slag <b>(invented)</b>", "mass_g": 12.345, "wt": {"CaO": 56}}], "after": {"key": "fre-levii-mean", "name": "Demo mean"}}


def test_a_replica_tells_its_materials_and_what_it_copies(client):
    told = made_glass(made=REPLICA)
    assert [v["verdict"] for v in client.post("/sync/push", json={"entries": [told]}).json()["verdicts"]] == ["stored"]
    page = client.get(f"/glass/own/{told['subject']}")
    assert "Made of 375.5 g Quartz sand, pure and 12.345 g Slag <b>(invented)</b>, after Demo mean" in text_of(page)
    assert "<b>(invented)" not in page.text
    (handed,) = [e for e in client.get("/sync/feed.json").json()["entries"] if e["subject"] == told["subject"]]
    assert handed["body"]["made"] == REPLICA
    assert [v["verdict"] for v in client.post("/sync/push", json={"entries": [handed]}).json()["verdicts"]] == ["same"]
    (listed,) = client.get("/glass/own.json").json()
    assert (listed["of"], listed["copies"]) == ([], "fre-levii-mean")


@pytest.mark.parametrize("made", [
    {**REPLICA, "materials": [{"name": "", "mass_g": 1.0, "wt": {}}]}, {**REPLICA, "materials": [{"name": "x", "mass_g": -1.0, "wt": {}}]}, {**REPLICA, "materials": [{"name": "x", "mass_g": 1.0, "wt": {"Unobtainium": 3.0}}]},
    {**REPLICA, "materials": [{"name": "x", "mass_g": 1.0, "wt": {"SiO2": 1e9}}]}, {**REPLICA, "after": {"key": "x"}},
    {"glasses": [], "compounds": [{"compound": "../x", "mass_g": 1.0, "purity": 1.0}]}, {"glasses": [], "compounds": [{"compound": "cuo", "mass_g": -1.0, "purity": 1.0}]},
    {"glasses": [], "compounds": [{"compound": "cuo", "mass_g": 1.0, "purity": 0.0}]}, {"glasses": [{"key": "", "name": "x", "mass_g": 1.0}] * 11, "compounds": []}, {"glasses": []},
])
def test_a_recipe_that_cannot_be_is_refused(client, made):
    assert [v["verdict"] for v in client.post("/sync/push", json={"entries": [made_glass(made=made)]}).json()["verdicts"]] == ["refused"]
