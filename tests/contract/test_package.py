"""The data package over HTTP: out of a full bench book, into an empty one, and out again the same."""

import io
import json
import re
import zipfile
from html import unescape

import pytest

from demo.workshop import batches, fill
from server.app import create_app
from server.settings import Settings
from tests.client import Client
from tests.entries import entry, new_id, whole_trial
from tests.packages import COVERED, SESSION, covered_tests, odd_entries, packed, parts, put, told_in, with_entries
from tests.unit.session.test_queue import SESSION as PLANNED
from tests.unit.session.test_queue import made as plan_of


@pytest.fixture
def client(app):
    return Client(app)


@pytest.fixture
def empty(tmp_path):
    """An app on a bench book of its own in which nothing stands."""
    made = create_app(Settings(database=tmp_path / "empty.db"))
    yield made
    made.state.store.close()


def bring(app, data: bytes):
    return Client(app).post("/results/package", files={"package": ("package.zip", data, "application/zip")})


def counted(answer) -> tuple[int, int, int]:
    """(stored, here already, refused) as the page says."""
    return tuple(map(int, re.search(r"<strong>(\d+) entr(?:y|ies) stored</strong>, (\d+) here already, (\d+) refused", answer.text).groups()))


def without_moment(data: bytes) -> dict[str, bytes]:
    """The files of a package but for the moment of making it."""
    made = json.loads(parts(data)["datapackage.json"])["created"].encode()
    return {name: content.replace(made, b"") for name, content in parts(data).items()}


def test_the_demo_goes_out_and_in_and_out_again_without_loss(app, client, empty):
    fill(app.state.store)
    sent = sorted((entry for _, told in batches() for entry in told), key=lambda e: (e["at_ms"], e["id"]))
    first = client.get("/results/package.zip?licence=CC0-1.0")
    assert first.status_code == 200 and first.headers["content-type"] == "application/zip" and ".zip" in first.headers["content-disposition"]
    assert told_in(first.content) == sent
    assert counted(bring(empty, first.content)) == (len(sent), 0, 0)
    second = Client(empty).get("/results/package.zip?licence=CC0-1.0")
    assert without_moment(second.content) == without_moment(first.content)
    assert packed(empty.state.store) == packed(app.state.store)
    assert counted(bring(empty, second.content)) == (0, len(sent), 0)
    assert counted(bring(app, second.content)) == (0, len(sent), 0)


def test_odd_texts_photos_and_strangers_go_through_too(app, client, empty):
    put(app.state.store, odd_entries())
    data = client.get("/results/package.zip").content
    assert counted(bring(empty, data))[0] == len(told_in(data))
    assert told_in(Client(empty).get("/results/package.zip").content) == told_in(data)
    photo = next(e for e in told_in(data) if e["kind"] == "piece.photo")
    assert Client(empty).get(f"/finds/photo/{photo['id']}").content == client.get(f"/finds/photo/{photo['id']}").content


def test_nothing_of_a_covered_session_is_in_it(app, client):
    put(app.state.store, odd_entries())
    for address in ("/results/package.zip", f"/results/package.zip?session={SESSION}"):
        for name, content in parts(client.get(address).content).items():
            for mark in (b"Covert", b"covert", b"6.125", b"11.375", b"11375", COVERED.encode(), b"QQ,"):
                assert mark not in content, (name, mark)
    assert "1 blind session that is still covered" in client.get("/results/package").text
    refused = client.get(f"/results/package.zip?session={COVERED}")
    assert refused.status_code == 422 and "still covered" in refused.text


def test_the_marks_of_the_covered_session_are_found_where_it_is_open(app, client):
    """The test above looks for what would be there."""
    told = [{**e, "body": {**e["body"], "is_blind": False}} if e["kind"] == "plan.made" else e for e in covered_tests()]
    put(app.state.store, told)
    found = b"".join(parts(client.get("/results/package.zip").content).values())
    assert all(mark in found for mark in (b"Covert", b"covert", b"6.125", COVERED.encode()))


def test_one_session(app, client):
    put(app.state.store, odd_entries())
    about = json.loads(parts(client.get(f"/results/package.zip?session={SESSION}&licence=CC-BY-4.0").content)["datapackage.json"])
    assert about["name"] == f"isokom-session-{SESSION}" and about["licenses"][0]["name"] == "CC-BY-4.0"
    assert client.get("/results/package.zip?session=018f0000-0000-7000-8000-00000000ffff").status_code == 404
    assert client.get("/results/package.zip?session=none").status_code == client.get("/results/package.zip?licence=mine").status_code == 422
    assert client.get("/results/package.zip?session=&licence=later").status_code == 200


def test_the_page_says_what_is_in_it(app, client):
    put(app.state.store, odd_entries())
    page = unescape(client.get("/results/package").text)
    for words in ("Torch trials", "entries.csv", "CC BY 4.0", "Download the data package", "Bring it in", "Demo flame (invented)", "operators and keepers"):
        assert words in page
    assert "Demo pull (invented)" not in page
    assert 'href="/results/package"' in client.get("/results").text


@pytest.mark.parametrize("data", [b"", b"hello", b"PK\x03\x04 torn", b"PK\x05\x06" + bytes(18)])
def test_what_is_no_package_is_refused_politely(app, client, data):
    answer = bring(app, data)
    assert answer.status_code == 422 and 'role="alert"' in answer.text and "Nothing was changed" in answer.text
    assert told_in(packed(app.state.store)) == []


def test_a_form_without_a_file_and_another_body_are_refused(client):
    assert client.post("/results/package", data={"package": "words"}).status_code == 422
    assert client.post("/results/package", content=b"").status_code == 422
    assert client.post("/results/package", json={"a": 1}).status_code == 422


def test_a_package_as_the_bare_body_is_taken_too(app, client, empty):
    put(app.state.store, whole_trial())
    answer = Client(empty).post("/results/package", content=packed(app.state.store), headers={"content-type": "application/zip"})
    assert counted(answer) == (6, 0, 0)


def test_one_bad_entry_is_told_and_stops_none(app, empty):
    put(app.state.store, whole_trial())
    data = packed(app.state.store)
    entries = parts(data)["entries.csv"].replace(b"trial.kept", b"trial.<b>").replace(b'""mass_g"": 2.0', b'""mass_g"": -2.0')
    answer = bring(empty, with_entries(data, entries))
    assert counted(answer) == (4, 0, 2)
    assert "trial.&lt;b&gt;" in answer.text and "trial.<b>" not in answer.text and "mass_g" in answer.text


def test_another_site_cannot_bring_anything_in(client):
    assert client.post("/results/package", content=b"x", headers={"origin": "https://elsewhere.example"}).status_code == 403


def test_a_package_may_be_larger_than_any_other_body_but_not_without_end(tmp_path):
    made = create_app(Settings(database=tmp_path / "small.db", max_body_bytes=1000, max_package_bytes=5000))
    client = Client(made)
    assert client.post("/results/package", content=b"x" * 4000, headers={"content-type": "application/zip"}).status_code == 422
    assert client.post("/results/package", content=b"x" * 6000, headers={"content-type": "application/zip"}).status_code == 413
    assert client.post("/sync/push", content=b"x" * 4000, headers={"content-type": "application/json"}).status_code == 413
    made.state.store.close()


def test_a_margin_goes_along_with_the_session_whose_glasses_it_was_said_of(app):
    client = Client(app)
    plan_made, told = plan_of(is_blind=False), []
    for key, s in (("demo-soft", 14.0), ("demo-stiff", 18.0)):
        told += whole_trial(at_s=(0, s, 90, 95, 130), glass_key=key, glass_name=f"{key} (invented)", session=PLANNED, run=0, code="AA")
    said = [entry("finding.margin", new_id(), 0, {"first": "glass:demo-stiff", "second": second, "lane": "sag", "percent": 20.0}) for second in ("glass:demo-soft", "glass:elsewhere")]
    assert {v["verdict"] for v in client.post("/sync/push", json={"entries": [plan_made, *told, *said]}).json()["verdicts"]} == {"stored"}
    with zipfile.ZipFile(io.BytesIO(client.get(f"/results/package.zip?session={PLANNED}").content)) as package:
        entries = package.read("entries.csv").decode()
    assert said[0]["id"] in entries and said[1]["id"] not in entries
