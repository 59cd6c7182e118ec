"""What the pages say of a glass's kin, and that they stay small."""

import re

import pytest

from server.glass.catalog import glasses
from server.physics.table import table
from tests.client import Client
from tests.entries import entry, new_id
from tests.unit.glass.test_own import BODY


@pytest.fixture
def client(app):
    return Client(app)


def section(text: str) -> str:
    """The part of a glass page that tells its kin."""
    return text[text.index('<h2 id="kin">') : text.index("<summary>Composition</summary>")]


def test_page_tells_the_rule_with_its_numbers_and_no_date(client):
    """Apollonia 13 (Freestone et al. 2000): MgO 0.72 and K2O 1.42 as published, brought to 100."""
    told = section(client.get("/glass/fre-levi-ap-13").text)
    assert "MgO 0.73 and K₂O 1.44, both at most 1.5 wt%" in told and "K₂O close to the limit" in told
    assert "No date and no provenance." in told
    assert "Sayre &amp; Smith 1961" in told[told.index("<details>") :] and "Sayre" not in told[: told.index("<details>")]


def test_page_tells_near_misses_and_limits_from_memory(client):
    assert re.search(r"Near miss:</strong> <a href=\"/glass/kinds#plant_ash\">", section(client.get("/glass/fre-ban-58").text))
    assert "limits from memory" in section(client.get("/glass/lit-himt").text)


def test_page_says_what_it_cannot(client):
    told = section(client.get("/glass/lit-merov").text)
    assert "Cannot say, since not reported" in told and "K₂O" in told
    assert "Nothing can be said" in section(client.get("/glass/chn-hik-12-w").text)
    assert "No rule fits. Nearest" in section(client.get("/glass/lit-eglba-co").text)


def test_own_glass_is_told_too_and_escaped(client):
    raw = entry("glass.added", new_id(), 0, {**BODY, "name": "<i>x</i>"})
    client.post("/sync/push", json={"entries": [raw]})
    told = section(client.get(f"/glass/own/{raw['subject']}").text)
    assert "natron (mineral soda)" in told and "<i>x" not in told


def test_sections_stay_small(client):
    """About 160 pages are kept on the tablet: 1 kB each on the whole, and none much over it."""
    sizes = [len(section(text).encode()) for text in client.get("/glass/pages.json").json().values()]
    assert sum(sizes) / len(sizes) <= 1000 and max(sizes) <= 1300


def test_every_link_leads_to_a_rule(client):
    text = client.get("/glass/kinds").text
    there = set(re.findall(r'id="([a-z0-9_]+)"', text))
    linked = {key for page in client.get("/glass/pages.json").json().values() for key in re.findall(r"/glass/kinds#([a-z0-9_]+)", page)}
    assert linked <= there and len(linked) > 15


def test_rules_page_prints_every_rule_with_source_and_evidence(client):
    text = client.get("/glass/kinds").text.replace("&amp;", "&").replace("&#39;", "'")
    rules = table("kin")
    for kind in rules["kinds"]:
        assert kind["citation"] in text and kind["near"] in text, kind["key"]
        for condition in kind["when"]:
            for side in ("min", "max"):
                assert f"{condition.get(side, 0):g}" in text
    for said in (rules["caution"], rules["margin"]["why"], rules["blank"], rules["recycling"]["not_concluded"], *rules["evidence"].values()):
        assert said in text


def test_rules_page_is_kept_for_the_tablet(client):
    assert '"/glass/kinds"' in client.get("/sw.js").text


def test_no_page_gives_a_date_or_a_place_as_a_fact(client):
    for glass in list(glasses().values())[::7]:
        told = section(client.get(glass.link).text)
        assert not re.search(r"\b(made in|dates? (to|from)|century|AD|BC)\b", told), glass.key
