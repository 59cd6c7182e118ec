"""The preview over HTTP: nothing stored, one sentence for what cannot be read, and bodies that a push stores as previewed."""

import json
import re
from base64 import b64encode
from html import unescape

import pytest

from server.intake.reading import LARGEST_FILE_BYTES
from tests.client import Client
from tests.entries import entry, new_id
from tests.unit.intake import tables as t

ACCEPT = {"accept": "text/html, application/json"}


@pytest.fixture
def client(app):
    return Client(app)


def preview(client, **asked):
    return client.post("/intake/preview", json=asked, headers=ACCEPT)


def bodies(html: str) -> list[dict]:
    """What would be kept of each row that can be ticked."""
    return [json.loads(found) for found in re.findall(r'<script type="application/json">(.*?)</script>', html, re.S)]


def test_the_page_opens_and_is_one_that_the_tablet_keeps(client):
    assert client.get("/intake").status_code == 200
    assert '"/intake"' in client.get("/sw.js").text
    assert 'href="/intake"' in client.get("/glass").text


def test_a_preview_shows_originals_and_stores_nothing(client):
    answer = preview(client, text=t.GERMAN)
    assert answer.status_code == 200 and answer.headers["content-type"].startswith("text/html")
    text = unescape(answer.text)
    for words in ("1.250", "1250", "below 0.5", "not found", "Probe Nr.", "the mean of lines 3 to 4", "Look again."):
        assert words in text
    assert client.get("/glass/own.json").json() == []


def test_what_was_previewed_is_what_the_push_stores_and_the_page_shows(client):
    previewed = bodies(preview(client, text=t.GERMAN, method="epma-icp", source="Test report 7 (invented)").text)
    mean = next(body for body in previewed if body["name"] == "Mean of A7-1 to A7-2")
    sent = [entry("glass.added", new_id(), 0, body) for body in previewed]
    assert {v["verdict"] for v in client.post("/sync/push", json={"entries": sent}).json()["verdicts"]} == {"stored"}
    page = unescape(client.get(f"/glass/own/{sent[previewed.index(mean)]['subject']}").text)
    for words in ("and in the table", "Na₂O: 16,0 ± 0,3", "16.0 wt%", "Co (ppm): 1.215 ± 50", "EPMA, SEM-EDS or ICP", "n = 2", "Test report 7"):
        assert words in page
    again = preview(client, text=t.GERMAN).text
    assert "is in the bench book already" in again


def test_a_workbook_and_its_sheets(client):
    data = t.workbook({"Cover": [["words"]], "One": [["Sample", "SiO2", "Na2O"], ["A", 70.5, 17]], "Two": [["Sample", "SiO2", "Na2O"], ["B", 69.5, "16,5"]]})
    sent = b64encode(data).decode()
    assert [b["name"] for b in bodies(preview(client, file=sent).text)] == ["A"]
    assert [b["name"] for b in bodies(preview(client, file=sent, sheet="Two").text)] == ["B"]


def test_corrections_count(client):
    text = "Sample;SiO2;Na2O;Gehalt X\nA;69,5;17;8,2"
    assert len(bodies(preview(client, text=text).text)[0]["amounts"]) == 2
    made = bodies(preview(client, text=text, corrections={"3": {"role": "oxide", "of": "CaO", "unit": "wt"}}).text)[0]
    assert made["amounts"][2] == {"name": "CaO", "text": "8.2", "unit": "wt", "raw": "8,2", "heading": "Gehalt X"}


@pytest.mark.parametrize(("asked", "code"), [
    ({"text": ""}, "empty"), ({"text": "hello"}, "no_headings"), ({"file": "%%%"}, "broken_file"), ({"file": b64encode(b"PK\x03\x04xx").decode()}, "no_table"),
    ({"text": "x" * (LARGEST_FILE_BYTES + 1)}, "too_large"), ({"text": t.GERMAN, "corrections": {"2": {"role": "oxide", "of": "Unobtainium", "unit": "wt"}}}, "no_such_role"),
])
def test_what_cannot_be_read_is_said_in_one_sentence(client, asked, code):
    answer = preview(client, **asked)
    problem = answer.json()
    assert (answer.status_code, problem["code"]) == (422, code)
    assert problem["detail"].endswith(".")


@pytest.mark.parametrize("asked", [{"text": 5}, {"turn": "about"}, {"method": "guess"}, {"corrections": {"a": {"role": "id"}}}, {"extra": 1}, {"source": "a\nb"}])
def test_what_no_page_would_send_names_its_place(client, asked):
    answer = preview(client, **asked)
    assert answer.status_code == 422 and answer.json()["code"] == "invalid"


def test_a_paste_of_20_megabytes_is_turned_away(client):
    answer = preview(client, text="SiO2;" * 4_000_000)
    assert answer.status_code == 413
    assert answer.json()["detail"].endswith("Nothing was changed.")


def test_markup_in_a_table_stays_text(client):
    answer = preview(client, text="Sample;SiO2;Na2O;<img src=x>\n</script><b>A</b>;70;17;<i>")
    assert "<img" not in answer.text and "<b>A" not in answer.text
    assert bodies(answer.text)[0]["name"] == "</script><b>A</b>"


def test_another_site_cannot_ask(client):
    answer = client.post("/intake/preview", json={"text": t.GERMAN}, headers={**ACCEPT, "origin": "https://example.invalid"})
    assert answer.status_code == 403
