"""A guest reads about glasses and times, and never learns where a find comes from, who keeps it, or what a blind session covers."""

import re

import pytest
from sqlmodel import select

from demo.workshop import fill
from server.access import passes
from server.access.rights import needed
from server.find import log as find_log
from server.store.log import BenchEntry
from server.sync.push import Batch, push
from server.trial.entry import TrialEntry
from tests import finds
from tests.contract.test_access import Device
from tests.entries import whole_trial
from tests.routes import every_route

CANARY = "Zzcanary"


@pytest.fixture
def filled(app):
    """The demo's workshop, with a find whose every text is a canary."""
    fill(app.state.store)
    find, piece = finds.subject(), finds.subject()
    facts = {name: f"{CANARY}{name}" for name in ("site", "context", "number", "keeper", "note")}
    entries = [
        finds.opened(find, **facts),
        finds.consent(find, by=f"{CANARY}by", note=f"{CANARY}consent"),
        finds.added(piece, find, label="Demo sherd", note=f"{CANARY}piece", condition=f"{CANARY}condition"),
        finds.weighed(piece, 9.0),
        *whole_trial(glass_key=None, glass_name="", piece="Demo sherd", piece_id=piece, consent=True, keeper=f"{CANARY}trial"),
    ]
    with app.state.store.write() as session:
        assert {v.verdict for v in push(session, Batch(entries=entries), 1)} == {"stored"}
    return app, find, piece, entries[-1]["subject"]


def addresses(app, ids: dict[str, list[str]]) -> list[str]:
    """Every GET address of the app, with real numbers in it."""
    found = []
    for method, path in every_route(app):
        if method == "GET":
            names = re.findall(r"\{(\w+)(?::\w+)?\}", path)
            for place in range(max((len(ids.get(name, "x")) for name in names), default=1)):
                values = {name: ids.get(name, ["x"])[place % len(ids.get(name, ["x"]))] for name in names}
                found.append(re.sub(r"\{(\w+)(?::\w+)?\}", lambda one, values=values: values[one[1]], path))
    return found


def test_no_page_that_a_guest_can_open_tells_of_places_and_people(filled):
    app, find, piece, trial = filled
    with app.state.store.write() as session:
        code = passes.invite(session, "guest", 1_790_000_000_000, for_ms=10**12)
        subjects = [*session.exec(select(TrialEntry.subject).distinct().limit(12)), trial]
        measures = list(session.exec(select(BenchEntry.subject).where(BenchEntry.kind == "measure.started").limit(6)))
        sites = {f.facts[name] for f in find_log.finds(session).finds for name in ("site", "context", "keeper") if len(f.facts[name]) > 5}
    guest = Device(app)
    assert guest.join(code).json()["role"] == "guest"
    ids = {"trial_id": subjects, "test_id": measures, "key": ["demo-rubin", "modern-float"], "find_id": [find], "piece_id": [piece], "session_id": ["x"], "entry_id": ["x"]}
    told, opened = [], 0
    for path in addresses(app, ids):
        for query in ("", f"?piece_id={piece}&piece=Demo sherd"):
            answer = guest.ask("GET", path + query, headers={"Accept": "text/html"})
            opened += answer.status_code == 200
            assert answer.status_code < 500, path
            if answer.status_code == 200 and needed("GET", path) != "anybody":
                told += [(path, word) for word in [CANARY, *sites] if word in answer.text]
    assert told == [] and opened > 20
    assert len(sites) > 2


@pytest.fixture
def guest(app) -> Device:
    """A device that was let in as a guest."""
    with app.state.store.write() as session:
        code = passes.invite(session, "guest", 1_790_000_000_000, for_ms=10**12)
    made = Device(app)
    made.join(code)
    return made


@pytest.mark.parametrize("path", ["/finds", "/finds/log.json", "/results", "/results/glass/demo-rubin", "/results/findings", "/glass/own/018f0000-0000-7000-8000-0000000000d1", "/results/package", "/results/package.zip", "/results/trials.csv", "/results/piece?piece=Demo sherd", "/results/unknown", "/sync/feed.json", "/bench", "/bench/sessions.json", "/devices", "/exchange", "/connect"])
def test_what_is_not_a_guest_s(guest, path):
    assert guest.ask("GET", path).status_code == 403


@pytest.mark.parametrize("path", ["/sync", "/device", "/glass", "/sw.js"])
def test_what_a_guest_needs_to_read_offline_and_to_see_what_still_waits(guest, path):
    assert guest.ask("GET", path).status_code == 200
