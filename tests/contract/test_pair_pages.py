"""The pair page and its fragment over HTTP: what they say, and how they refuse."""

import json

import pytest

from server.glass.catalog import glasses
from server.pair.joint import lacks
from tests.client import Client
from tests.entries import entry, new_id
from tests.unit.glass.test_own import BODY

PAIR = {"a": "ver-ven-2", "b": "modern-fuse96"}


@pytest.fixture
def client(app):
    return Client(app)


def test_empty_page_offers_the_choice_and_is_kept(client):
    page = client.get("/pair")
    assert page.status_code == 200 and "Trail on bead or rod" in page.text and 'hx-get="/frag/pair"' in page.text
    shell = json.loads(client.get("/sw.js").text.split("const SHELL = ", 1)[1].split(";\n", 1)[0])
    assert "/pair" in shell["pages"]


@pytest.mark.parametrize("form", ["strip", "core", "trail"])
def test_answer_has_all_its_parts(client, form):
    answer = client.get("/frag/pair", params={**PAIR, "form": form})
    assert answer.status_code == 200 and "<html" not in answer.text
    words = ("MPa", "tension", "compression", "Settle it with a thread", "Between crossed polarisers", "full-wave plate", "common practice", "goggles", "anneal", "ppm", "× 10⁻⁷/K", "20–300 °C", "Timoshenko" if form == "strip" else "1931")
    for word in words:
        assert word in answer.text, word
    assert "url(#hatch-tension)" in answer.text and "url(#hatch-compression)" in answer.text
    assert "style=" not in answer.text


def test_path_changes_the_colour_only(client):
    thin, thick = (client.get("/frag/pair", params={**PAIR, "form": "strip", "path": path}).text for path in ("1", "10"))
    assert thin.split("</p>")[0] == thick.split("</p>")[0]
    assert "through 1.0 mm" in thin and "through 10.0 mm" in thick


def test_a_glass_that_lacks_an_estimate_is_refused_in_words(client):
    key = next(key for key, glass in glasses().items() if lacks(glass) == ["expansion", "viscosity curve"])
    answer = client.get("/frag/pair", params={"a": key, "b": PAIR["b"], "form": "trail"})
    assert answer.status_code == 200
    assert "Cannot say" in answer.text and "no expansion and no viscosity curve" in answer.text and f"/glass/{key}" in answer.text
    assert "MPa" not in answer.text and "ppm" not in answer.text


def test_a_glass_with_expansion_alone_is_refused_as_well(client):
    key = next(key for key, glass in glasses().items() if lacks(glass) == ["viscosity curve"])
    text = client.get("/frag/pair", params={"a": PAIR["a"], "b": key, "form": "strip"}).text
    assert "no viscosity curve" in text and "no expansion" not in text and "MPa" not in text


def test_own_glass_takes_part(client):
    raw = entry("glass.added", new_id(), 0, {**BODY, "name": "Ödenau <b>rod</b> (invented)"})
    client.post("/sync/push", json={"entries": [raw]})
    text = client.get("/frag/pair", params={"a": f"own/{raw['subject']}", "b": PAIR["b"], "form": "strip"}).text
    assert "Ödenau &lt;b&gt;rod" in text and "MPa" in text


@pytest.mark.parametrize(
    ("params", "status"),
    [
        ({**PAIR, "form": "knot"}, 422), ({"a": "ver-ven-2", "form": "strip"}, 422), ({**PAIR, "form": "strip", "path": "nan"}, 422),
        ({**PAIR, "form": "strip", "path": "0"}, 422), ({**PAIR, "form": "core", "share": "1"}, 422), ({**PAIR, "form": "strip", "a": "x" * 99}, 422),
        ({**PAIR, "form": "strip", "a": "atlantis"}, 404), ({**PAIR, "form": "strip", "b": "own/nobody"}, 404),
    ],
)  # fmt: skip
def test_what_cannot_be_asked_is_refused_in_one_shape(client, params, status):
    answer = client.get("/frag/pair", params=params, headers={"HX-Request": "true"})
    assert answer.status_code == status and 'role="alert"' in answer.text


def test_links_lead_here(client):
    assert "/pair?a=ver-ven-2" in client.get("/glass/ver-ven-2").text
    assert 'href="/pair"' in client.get("/glass/compare").text
