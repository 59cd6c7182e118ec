"""HTML and formulas in every text that a person may type, in every kind of entry: no page lets them through as more than text, and no table as a formula (OWASP, CSV Injection: cells that begin with = + - @, tab or carriage return)."""

import copy
import csv
import gzip
import io
import re

import pytest

from server.errors import Refused
from server.store.log import typed
from server.sync.push import KINDS, Batch, push
from tests.client import Client
from tests.entries import whole_trial
from tests.finds import OTHER_DEVICE
from tests.packages import odd_entries, open_session
from tests.routes import every_route

HTML = "<b id=evil>\"'&"
FORMULAS = ("=1+1", "@SUM(1)", "+1-1", "-1+cmd")
NUMBER = re.compile(r"^[-+−]?[\d.,]+(e[-+]?\d+)?$", re.IGNORECASE)
MOST_PAGES = 400


def leaves(value, path=()):
    """Paths to every text."""
    pairs = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for key, inner in pairs:
        if isinstance(inner, str):
            yield (*path, key)
        else:
            yield from leaves(inner, (*path, key))


def with_text(entry: dict, path: tuple, text: str) -> dict:
    made = copy.deepcopy(entry)
    place = made["body"]
    for key in path[:-1]:
        place = place[key]
    place[path[-1]] = text
    return made


def is_taken(entry: dict) -> bool:
    domain = entry["kind"].split(".")[0]
    if domain == "glass":
        return True
    try:
        typed(KINDS[domain][0], entry)
    except Refused:
        return False
    return True


def poisoned(entry: dict, text: str) -> dict:
    """The entry with that text wherever it may stand."""
    for path in leaves(entry["body"]):
        if path[-1] in ("text", "glass_key", "key") and entry["kind"] in ("glass.added", "plan.made", "trial.started", "measure.started"):
            continue  # figures, and numbers of glasses by which pages find each other
        changed = with_text(entry, path, text)
        entry = changed if is_taken(changed) else entry
    return entry


@pytest.fixture
def filled(app):
    """Call with a text for a client of a book that is full of it."""

    def fill(text: str) -> Client:
        entries = [poisoned(one, text) for one in [*odd_entries(), *open_session()]]
        assert sum(text[:5] in str(one["body"]) for one in entries) > 30
        with app.state.store.write() as session:
            verdicts = push(session, Batch(entries=list({one["id"]: one for one in entries}.values())), 1)
        assert sum(one.verdict == "stored" for one in verdicts) > 0.9 * len(verdicts), [one.message for one in verdicts if one.verdict == "refused"][:3]
        return Client(app)

    return fill


def walked(app, client: Client):
    """Every page that can be reached by links from those without a number."""
    waiting = [path for method, path in every_route(app) if method == "GET" and "{" not in path]
    seen = set(waiting)
    while waiting and len(seen) < MOST_PAGES:
        path = waiting.pop()
        answer = client.get(path)
        assert answer.status_code < 500, path
        yield path, answer
        if "text/html" in answer.headers.get("content-type", ""):
            found = {link.replace("&amp;", "&") for link in re.findall(r'(?:href|action)="(/[^"#]*)', answer.text)} - seen
            found = {link for link in found if not link.startswith(("/static/", "/glass/natron", "/results/package"))}
            seen |= found
            waiting += sorted(found)


def test_no_page_lets_html_through(app, filled):
    client, escaped = filled(HTML), 0
    for path, answer in walked(app, client):
        if "text/html" in answer.headers.get("content-type", "") or "svg" in answer.headers.get("content-type", ""):
            assert "<b id=evil>" not in answer.text, path
            escaped += "&lt;b id=evil&gt;" in answer.text
    assert escaped > 8


@pytest.mark.parametrize("formula", FORMULAS)
def test_no_table_begins_a_formula(app, filled, formula):
    client, met = filled(formula), 0
    for path, answer in walked(app, client):
        if "text/csv" not in answer.headers.get("content-type", ""):
            continue
        for cell in (cell for row in csv.reader(io.StringIO(answer.text)) for cell in row):
            assert not cell.startswith(("=", "+", "-", "@", "\t", "\r")) or NUMBER.match(cell), (path, cell)
            met += formula in cell
    assert met > 0


def test_a_packed_body_is_not_unpacked(app):
    """A gzip bomb of 200 MB in 200 kB: nothing here unpacks what is sent, so it is no JSON, and that is all."""
    bomb = gzip.compress(b"[" * 200_000_000, 1)
    answer = Client(app).post("/sync/push", content=bomb[:1_000_000], headers={"Content-Type": "application/json", "Content-Encoding": "gzip"})
    assert answer.status_code in (400, 422)


def test_a_device_may_hand_in_what_another_recorded_and_neither_becomes_the_other(app):
    """Machines and files pass on entries of many tablets: the device in an entry is what it says of itself, and is never changed on the way."""
    first, second = whole_trial(), [one | {"device": OTHER_DEVICE} for one in whole_trial()]
    with app.state.store.write() as session:
        assert {one.verdict for one in push(session, Batch(entries=first + second), 1)} == {"stored"}
        forged = [one | {"device": OTHER_DEVICE} for one in first]
        assert {(one.verdict, one.code) for one in push(session, Batch(entries=forged), 1)} == {("refused", "differs")}
