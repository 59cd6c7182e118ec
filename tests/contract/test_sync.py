"""The contract of POST /sync/push: a verdict for each entry, nothing confirmed that is not stored."""

import copy
import json
import random
import sqlite3
import uuid

import pytest

from server.trial import log
from server.trial.timing import trial_from
from tests.client import Client
from tests.entries import DEVICE, WALL_0, entry, new_id, started, whole_trial


@pytest.fixture
def client(app):
    return Client(app)


def push(client, entries, **options):
    """Send entries; the verdicts as (verdict, code)."""
    answer = client.post("/sync/push", json={"entries": entries}, **options)
    assert answer.status_code == 200, answer.text
    verdicts = answer.json()["verdicts"]
    assert len(verdicts) == len(entries)
    return [(v["verdict"], v["code"]) for v in verdicts]


def stored_ids(database) -> list[str]:
    """What the file itself holds, read past our own code."""
    with sqlite3.connect(database) as connection:
        return [row[0] for row in connection.execute("SELECT id FROM trial_entry ORDER BY seq")]


def test_stored_then_same(client, database):
    entries = whole_trial()
    assert push(client, entries) == [("stored", "")] * 6
    assert push(client, entries) == [("same", "")] * 6
    assert stored_ids(database) == [e["id"] for e in entries]


def test_one_id_twice_in_a_batch_is_stored_once(client, database):
    one = started(str(uuid.uuid4()))
    assert push(client, [one, one]) == [("stored", ""), ("same", "")]
    assert stored_ids(database) == [one["id"]]


def test_same_id_with_other_content_is_refused_and_the_first_stays(client):
    first = started(str(uuid.uuid4()))
    other = copy.deepcopy(first)
    other["body"]["mass_g"] = 2.5
    push(client, [first])
    assert push(client, [other]) == [("refused", "differs")]
    assert push(client, [first]) == [("same", "")]


def test_2_and_2_0_are_one_number(client):
    entry_2 = started(str(uuid.uuid4()), mass_g=2)
    raw = json.dumps({"entries": [entry_2]})
    headers = {"content-type": "application/json"}
    assert client.post("/sync/push", content=raw, headers=headers).json()["verdicts"][0]["verdict"] == "stored"
    again = client.post("/sync/push", content=raw.replace('"mass_g": 2,', '"mass_g": 2.0,'), headers=headers)
    assert '"mass_g": 2,' in raw and again.json()["verdicts"][0]["verdict"] == "same"


def test_a_bad_entry_never_stops_its_neighbours(client, database):
    good = whole_trial()
    bad = [{}, {"id": 5}, {"kind": "weather.noted"}, {"kind": ["trial"]}, {**started(str(uuid.uuid4())), "n": "0"}, {"id": "\ud800", "kind": "trial.kept"}]
    mixed = [x for pair in zip(good, bad, strict=True) for x in pair]
    answer = client.post("/sync/push", content=json.dumps({"entries": mixed}), headers={"content-type": "application/json"})
    verdicts = answer.json()["verdicts"]
    assert [v["verdict"] for v in verdicts] == ["stored", "refused"] * 6
    assert all(v["code"] and v["message"] for v in verdicts[1::2])
    assert stored_ids(database) == [e["id"] for e in good]


def test_an_own_glass_goes_to_its_own_domain(client):
    body = {"name": "Demo own glass", "amounts": [{"name": "SiO2", "text": "70", "unit": "wt"}, {"name": "Na2O", "text": "18", "unit": "wt"}, {"name": "CaO", "text": "12", "unit": "wt"}]}
    glass = entry("glass.added", str(uuid.uuid4()), 0, body)
    assert push(client, [glass, glass]) == [("stored", ""), ("same", "")]


def test_numbers_of_arrival_are_gapless_over_refusals(client, database):
    for _ in range(3):
        push(client, [*whole_trial(), {"kind": "trial.kept"}, {**started(str(uuid.uuid4())), "at_ms": -1}])
    with sqlite3.connect(database) as connection:
        assert [r[0] for r in connection.execute("SELECT seq FROM trial_entry ORDER BY seq")] == list(range(1, 19))


@pytest.mark.parametrize("number", ["NaN", "Infinity", "-Infinity", "1e999"])
def test_what_is_no_number_is_refused(client, number):
    raw = json.dumps({"entries": [started(str(uuid.uuid4()))]}).replace('"mass_g": 2.0', f'"mass_g": {number}')
    assert number in raw
    answer = client.post("/sync/push", content=raw, headers={"content-type": "application/json"})
    assert (answer.status_code, answer.json()["verdicts"][0]["verdict"]) == (200, "refused")


@pytest.mark.parametrize(
    ("raw", "status"),
    [
        ("{", 422),
        ("[]", 422),
        ('{"entries": 3}', 422),
        ('{"entries": [3]}', 422),
        ('{"entries": [], "more": 1}', 422),
        ('{"entries": [NaN]}', 422),
        (json.dumps({"entries": [{}] * 501}), 422),
        ("[" * 100_000, 400),
        (json.dumps({"entries": [{"id": "x" * 1_100_000}]}), 413),
    ],
    ids=["half", "list", "number", "numbers", "extra", "nan", "501", "deep", "oversize"],
)
def test_a_request_that_is_no_batch_is_a_problem_and_stores_nothing(client, database, raw, status):
    answer = client.post("/sync/push", content=raw, headers={"content-type": "application/json"})
    assert answer.status_code == status, answer.text[:200]
    assert answer.headers["content-type"].startswith("application/problem+json")
    assert {"title", "status", "detail", "code"} <= set(answer.json())
    assert stored_ids(database) == []


@pytest.mark.parametrize("headers", [{"Origin": "http://other.example"}, {"Sec-Fetch-Site": "cross-site"}, {"Sec-Fetch-Site": "same-site"}, {"Origin": "null"}])
def test_other_sites_may_not_write(client, database, headers):
    answer = client.post("/sync/push", json={"entries": whole_trial()}, headers=headers)
    assert (answer.status_code, answer.json()["code"]) == (403, "other_site")
    assert stored_ids(database) == []


def test_any_order_any_halves_any_repeats_give_the_same_trial(client, app):
    dice = random.Random(20261125)
    for _ in range(10):
        entries = whole_trial()
        sent = [*entries, *dice.choices(entries, k=4)]
        dice.shuffle(sent)
        cut = dice.randrange(len(sent))
        push(client, sent[:cut])
        push(client, sent[cut:])
        with app.state.store.read() as session:
            arrived = log.entries_of(session, entries[0]["subject"])
        assert trial_from(arrived) == trial_from(entries)
        assert len(arrived) == len(entries)


def test_what_is_stored_is_what_was_sent(client, app):
    sent = started(str(uuid.uuid4()), torch="Brenner – „Ω“ 🔥", glass_name="Démo")
    push(client, [sent])
    with app.state.store.read() as session:
        found = log.entries_of(session, sent["subject"])[0]
    assert {key: found[key] for key in sent} == sent


def test_results_show_what_was_pushed(client):
    entries = whole_trial(at_s=(0, 14.2, 31, 45.5, 55.3), glass_name="Demo <b>Rubin</b>", torch="=1+1")
    push(client, entries)
    listed = client.get("/results").text
    assert "1 trial: 1 kept." in listed and "Demo &lt;b&gt;Rubin&lt;/b&gt;" in listed and "<b>Rubin" not in listed
    profile = client.get("/results/glass/demo-rubin").text
    assert "sags after 14.2 s (one trial)" in profile
    assert "14.200" in client.get("/results/trials.csv").text
    assert "Every entry" in client.get(f"/results/trial/{entries[0]['subject']}").text
    picture = client.get("/results/profile.svg?glass=demo-rubin")
    assert picture.headers["content-type"].startswith("image/svg") and "<b>Rubin" not in picture.text


def test_the_list_is_sent_again_only_when_something_arrived(client):
    push(client, whole_trial())
    assert client.get("/frag/trials?seen=6").status_code == 204
    assert client.get("/frag/trials?seen=5").status_code == 200
    assert client.get("/frag/trials?seen=6&glass=").status_code == 204


@pytest.mark.parametrize("path", ["/results/trial/none", "/results/glass/none", "/results/glass/none/profile.svg"])
def test_what_never_arrived_is_not_here(client, path):
    assert client.get(path).status_code == 404


@pytest.mark.parametrize("path", ["/bench", "/bench/new", "/bench/run", "/results", "/sync"])
def test_pages_keep_to_the_policy(client, path):
    text = client.get(path).text
    assert " style=" not in text and "<style" not in text and "<script>" not in text and " onclick" not in text


def test_filter_by_glass(client):
    push(client, [*whole_trial(), *whole_trial(glass_key="demo-other", glass_name="Demo Other")])
    assert "1 trial:" in client.get("/results?glass=demo-other").text
    assert len(client.get("/results/trials.csv?glass=demo-rubin").text.splitlines()) == 2


def test_ids_and_devices_of_the_helpers_fit_the_wire():
    assert len(new_id()) == len(DEVICE) == 36 and WALL_0 > 10**12
