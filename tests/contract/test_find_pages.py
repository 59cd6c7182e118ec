"""Finds at the desk: entries in, the log without pictures, photos, labels, the ledger as a table, pages that keep to the policy."""

import base64
import csv
import io
import re

import pytest

from tests import finds as f
from tests.client import Client
from tests.entries import WALL_0

LABEL = "Demo <b>sherd</b>"


@pytest.fixture
def client(app):
    return Client(app)


def push(client, entries) -> list[str]:
    answer = client.post("/sync/push", json={"entries": entries})
    assert answer.status_code == 200, answer.text
    return [verdict["verdict"] for verdict in answer.json()["verdicts"]]


def a_find() -> tuple[str, str, list[dict]]:
    """Ids of a find and its piece, and entries with an overdraft of two tablets."""
    find, piece = f.subject(), f.subject()
    acts = [f.weighed(piece, 5.0, WALL_0, 0.01), f.used(piece, 3.0, at_ms=WALL_0 + 1), f.used(piece, 2.5, "fuse", at_ms=WALL_0 + 2, device=f.OTHER_DEVICE)]
    return find, piece, [f.opened(find), f.consent(find), f.added(piece, find, label=LABEL), *acts]


def test_entries_of_finds_and_pieces_go_to_their_domain(client):
    _, _, entries = a_find()
    assert push(client, entries) == ["stored"] * len(entries)
    assert push(client, entries) == ["same"] * len(entries)
    listed = client.get("/finds/log.json").json()["entries"]
    assert {e["id"]: e["body"] for e in listed} == {e["id"]: e["body"] for e in entries}


def test_the_log_is_sent_again_only_when_something_arrived(client):
    push(client, a_find()[2])
    first = client.get("/finds/log.json")
    tag = {"If-None-Match": first.headers["etag"]}
    again = client.get("/finds/log.json", headers=tag)
    assert (again.status_code, again.text) == (304, "")
    push(client, a_find()[2])
    assert client.get("/finds/log.json", headers=tag).status_code == 200


def test_an_empty_desk_lists_nothing(client):
    assert client.get("/finds/log.json").json() == {"entries": []}


def test_a_photo_is_served_as_a_picture_and_the_log_stays_small(client):
    find, piece, entries = a_find()
    big = base64.b64encode(b"\xff\xd8\xff\xda\x00\x02" + b"\x01" * 200_000 + b"\xff\xd9").decode()
    photo = f.photo(piece, big)
    assert push(client, [*entries, photo]) == ["stored"] * 7
    log = client.get("/finds/log.json")
    assert len(log.content) < 10_000
    assert next(e["body"] for e in log.json()["entries"] if e["kind"] == "piece.photo") == {"width": 4, "height": 3, "caption": "Demo"}
    answer = client.get(f"/finds/photo/{photo['id']}")
    assert answer.headers["content-type"] == "image/jpeg"
    assert base64.b64encode(answer.content).decode() == big
    for path in ("/finds/photo/none", f"/finds/photo/{entries[0]['id']}"):
        assert client.get(path).status_code == 404


def test_the_ledger_as_a_table_names_what_two_tablets_overdrew(client):
    find, piece, entries = a_find()
    wrong = f.lost(piece, 1.0, 'fell, "twice"', at_ms=WALL_0 + 3)
    push(client, [*entries, wrong, f.undone(wrong, "not lost", WALL_0 + 4)])
    answer = client.get("/finds/ledger.csv")
    assert answer.headers["content-type"].startswith("text/csv")
    rows = list(csv.DictReader(io.StringIO(answer.text)))
    assert [(row["act"], row["mass_g"], row["left_g"], row["beyond_what_was_left_g"]) for row in rows] == [
        ("weighed", "5", "5", "0"), ("used", "3", "2", "0"), ("used", "2.5", "0", "0.5"), ("lost", "1", "0", "0")]
    assert (rows[3]["taken_back"], rows[3]["why_taken_back"], rows[3]["words"]) == ("yes", "not lost", 'fell, "twice"')
    assert {row["find_number"] for row in rows} == {"17"} and {row["label"] for row in rows} == {LABEL}
    assert rows[0]["made_utc"] == "2026-09-21T14:13:20Z" and rows[0]["u_g"] == "0.01"


def test_labels_carry_code_name_and_a_square_code_without_inline_style(client):
    find, piece, entries = a_find()
    push(client, entries)
    text = client.get(f"/finds/labels?find={find}").text
    assert "KF7M4" in text and "Demo &lt;b&gt;sherd&lt;/b&gt;" in text and "<b>sherd" not in text
    assert text.count('class="qr"') == 1 and "style" not in re.sub(r'rel="stylesheet"', "", text.split("<main", 1)[1])
    assert "One" not in text and "1 label for find 17" in text


def test_labels_of_a_find_that_has_not_arrived_say_so(client):
    answer = client.get(f"/finds/labels?find={f.subject()}")
    assert answer.status_code == 404 and "may still be on its tablet" in answer.text
    assert client.get("/finds/labels").status_code == 422


def test_a_find_without_pieces_has_no_labels_yet(client):
    find = f.subject()
    push(client, [f.opened(find)])
    assert "No piece of find 17 has arrived at the desk yet." in client.get(f"/finds/labels?find={find}").text


@pytest.mark.parametrize("path", ["/finds", "/finds/find", "/finds/piece"])
def test_pages_keep_to_the_policy_and_stand_under_finds(client, path):
    text = client.get(path).text
    assert " style=" not in text and "<style" not in text and "<script>" not in text and " onclick" not in text
    assert re.search(r'<a href="/finds" aria-current="page">', text)
    assert [re.sub("<.*?>", "", place).strip() for place in re.findall(r"<a href=[^>]*>(<svg class=\"place-mark.*?)</a>", text, re.S)] == ["Glasses", "Finds", "Bench", "Results"]


def test_the_tablet_keeps_the_pages_and_the_log(client):
    worker = client.get("/sw.js").text
    for path in ("/finds", "/finds/find", "/finds/piece", "/finds/log.json"):
        assert f'"{path}"' in worker
