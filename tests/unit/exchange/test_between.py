"""Two books come to hold the same, both ways, whatever breaks off, and nothing goes over the line twice without need."""

import itertools
import uuid

import pytest

from server.app import create_app
from server.errors import Refused, Unavailable
from server.exchange import peers
from server.exchange.join import taken_apart
from server.find.log import finds as finds_of
from server.settings import Settings
from server.settle.log import differences
from tests import finds
from tests.books import empty_book
from tests.entries import entry, started, whole_trial
from tests.machines import Server, exchange
from tests.unit.sync.test_feed import own_glass


@pytest.fixture(scope="module")
def app(tmp_path_factory):
    made = create_app(Settings(database=tmp_path_factory.mktemp("app") / "bench.db"))
    made.state.store.close()  # each server brings its own
    yield made


@pytest.fixture
def two(app, tmp_path):
    """Two empty servers."""
    made = []
    for name in ("laptop", "desk"):
        made.append(Server(app, empty_book(tmp_path / f"{name}.db")))
    yield made
    for server in made:
        server.store.close()


def push(server: Server, entries: list[dict]) -> None:
    answer = server.request("POST", "/sync/push", json={"entries": entries})
    assert {v["verdict"] for v in answer.json()["verdicts"]} <= {"stored", "same"}, answer.text


def some(n: int = 2) -> list[dict]:
    piece = finds.subject()
    return [*(e for _ in range(n) for e in whole_trial()), own_glass(), finds.photo(piece)]


def test_both_hold_the_same_and_a_second_run_has_nothing_to_do(two):
    laptop, desk = two
    push(laptop, some())
    push(desk, some(3))
    told = exchange(laptop, desk)
    assert (told.sent, told.came, told.sent_same, told.came_same) == (14, 20, 0, 0)
    assert set(laptop.ids()) == set(desk.ids()) and len(laptop.ids()) == 34
    again = exchange(laptop, desk)
    assert (again.sent, again.came, again.sent_same, again.came_same) == (0, 0, 0, 0)
    assert again.sentence == "Nothing was new on either side."


def test_news_on_both_sides_between_runs_go_over_once(two):
    """What came from the other side is not sent back, nor fetched again: no entry is told twice in six rounds."""
    laptop, desk = two
    for _ in range(6):
        push(laptop, some(1))
        push(desk, some(2))
        told = exchange(laptop, desk)
        assert (told.sent, told.came, told.sent_same, told.came_same) == (8, 14, 0, 0)
    assert set(laptop.ids()) == set(desk.ids())


def test_three_machines_in_a_ring_hold_the_same(two, app, tmp_path):
    laptop, desk = two
    third = Server(app, desk.copy(tmp_path / "third.db"))
    for server in (laptop, desk, third):
        push(server, some())
    for one, other in ((laptop, desk), (desk, third), (third, laptop), (laptop, desk)):
        exchange(one, other)
    assert set(laptop.ids()) == set(desk.ids()) == set(third.ids())
    third.store.close()


@pytest.mark.parametrize("how", ["asked", "answered"])
def test_a_break_at_any_request_is_made_good_by_the_next_run(two, how):
    laptop, desk = two
    for broken in itertools.count():
        push(laptop, some(1))
        push(desk, some(1))
        count = itertools.count()
        if exchange(laptop, desk, lambda count=count, broken=broken: how if next(count) == broken else ""):
            break
        exchange(laptop, desk)
        assert set(laptop.ids()) == set(desk.ids())
    assert broken >= 3


@pytest.mark.parametrize("who", ["laptop", "desk"])
@pytest.mark.parametrize("grown", [False, True])
def test_a_book_set_back_gets_everything_again(two, tmp_path, who, grown):
    """Also where it has grown past the old place before the next exchange."""
    laptop, desk = two
    back = laptop if who == "laptop" else desk
    push(laptop, some())
    push(desk, some())
    exchange(laptop, desk)
    copy = back.copy(tmp_path / "older.db")
    push(laptop, some())
    push(desk, some())
    exchange(laptop, desk)
    everything = set(laptop.ids())
    back.put_back(copy)
    if grown:
        more = some(6)
        push(back, more)
        everything |= {e["id"] for e in more}
    told = exchange(laptop, desk)
    assert told.was_set_back == (who == "desk")
    assert set(laptop.ids()) == set(desk.ids()) == everything


def test_a_book_set_back_after_an_exchange_that_ended_between_its_two_ways(two, tmp_path):
    """Everything was handed over and nothing fetched yet, so nothing here is new and what was fetched last is still known there: all the same it is noticed."""
    laptop, desk = two
    push(laptop, some())
    exchange(laptop, desk)
    copy = desk.copy(tmp_path / "older.db")
    push(laptop, some())
    asked = []

    def ends_before_it_fetches() -> str:
        asked.append(len(desk.ids()))
        return "asked" if len(asked) == 3 else ""  # the look, what is handed over, what is fetched

    assert exchange(laptop, desk, ends_before_it_fetches) is None and asked == [14, 14, 28]
    desk.put_back(copy)
    assert exchange(laptop, desk).was_set_back
    assert set(laptop.ids()) == set(desk.ids())


def test_what_the_other_side_refuses_is_said_and_offered_again(two, monkeypatch):
    """As when the other machine has an older version: it stops nothing, and goes over once the other is newer."""
    from server.sync import push as door

    laptop, desk = two
    push(laptop, some())
    known = dict(door.KINDS)
    asked = desk.request

    def as_older(*words, **options):
        monkeypatch.setattr(door, "KINDS", {key: value for key, value in known.items() if key != "piece"})
        try:
            return asked(*words, **options)
        finally:
            monkeypatch.setattr(door, "KINDS", known)

    monkeypatch.setattr(desk, "request", as_older)
    for _ in range(2):
        told = exchange(laptop, desk)
        assert sum(told.refused_there.values()) == 1 and "refused there" in told.sentence
    monkeypatch.setattr(desk, "request", asked)
    assert exchange(laptop, desk).sent == 1
    assert set(laptop.ids()) == set(desk.ids())


def test_what_is_too_much_at_once_is_halved_and_what_is_too_large_is_named(two, monkeypatch):
    laptop, desk = two
    push(laptop, some())
    asked = desk.request

    def narrow(method, path, **options):
        if len(options.get("content", b"")) > 2200:
            return asked("POST", "/sync/push", json={"entries": [{"id": "x" * 1_100_000}]})
        return asked(method, path, **options)

    monkeypatch.setattr(desk, "request", narrow)
    push(laptop, [started(str(uuid.uuid4())), entry("trial.noted", str(uuid.uuid4()), 1, {"text": "x" * 2000})])
    told = exchange(laptop, desk)
    assert sum(told.refused_there.values()) == 1 and told.sent == 15
    monkeypatch.setattr(desk, "request", asked)
    assert exchange(laptop, desk).sent == 1


def test_an_answer_that_is_no_answer_keeps_everything_waiting(two, monkeypatch):
    import httpx

    laptop, desk = two
    push(laptop, some())
    for text in ("<html>", "{}", '{"verdicts": [], "head": {"seq": 1, "id": "", "received_ms": 0}, "known": true}', "[" * 100_000):
        monkeypatch.setattr(desk, "request", lambda *_words, text=text, **_options: httpx.Response(200, text=text))
        with pytest.raises(Unavailable):
            exchange(laptop, desk)
    monkeypatch.undo()
    assert exchange(laptop, desk).sent == 14


def test_a_newer_version_here_takes_what_an_older_one_could_not(two, monkeypatch):
    laptop, desk = two
    from server.sync import push as door

    push(desk, some())
    older = {key: value for key, value in door.KINDS.items() if key != "piece"}
    with monkeypatch.context() as as_older:
        as_older.setattr(door, "KINDS", older)
        as_older.setattr("server.exchange.between.__version__", "0.0.1")
        assert sum(exchange(laptop, desk).refused_here.values()) == 1
        assert exchange(laptop, desk).came == 0
    assert exchange(laptop, desk).came == 1
    assert set(laptop.ids()) == set(desk.ids())
    with laptop.store.read() as session:
        assert peers.progress(session, peers.every(session)[0].id).refused_here == 0


def test_what_was_said_apart_stands_on_both_and_is_settled_for_both(two):
    laptop, desk = two
    find = finds.subject()
    push(laptop, [finds.opened(find)])
    exchange(laptop, desk)
    push(laptop, [finds.consent(find, over=[], state="given")])
    push(desk, [finds.consent(find, over=[], state="refused") | {"device": finds.OTHER_DEVICE, "at_ms": 5}])  # a clock that stands at 1970
    exchange(laptop, desk)
    for server in two:
        with server.store.read() as session:
            [difference] = differences(session)
        assert {choice.body["state"] for choice in difference.choices} == {"given", "refused"}
    chosen = next(choice for choice in difference.choices if choice.body["state"] == "refused")
    push(laptop, [entry(chosen.kind, find, 9, chosen.body, at_ms=6)])
    exchange(laptop, desk)
    for server in two:
        with server.store.read() as session:
            assert differences(session) == [] and finds_of(session).finds[0].consent["state"] == "refused"


@pytest.mark.parametrize("link", ["https://[::1", "https://desk.example:port", "https://", "ftp://desk.example", "https://a@desk.example"])
def test_a_link_that_cannot_be_read_is_refused_in_words(link):
    with pytest.raises(Refused, match="no address"):
        taken_apart(link)
