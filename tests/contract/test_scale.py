"""The desk's list, its filter, the feed and the profile of a glass cost as much as a page of them, whatever the size of the book."""

import re
import sqlite3
from contextlib import closing

import pytest
from sqlalchemy import event

from server.sync.push import Batch, push
from tests.client import Client
from tests.entries import WALL_0, whole_trial

SMALL, LARGE = 230, 900
PATHS = ("/results", "/frag/trials?seen=0", "/results?glass=demo-1", "/results?before=1000", "/sync/feed.json", "/sync/mark.json", "/results/glass/demo-1")


def fill(store, first: int, last: int) -> None:
    """Trials of three glasses by 20 tablets, one after the other."""
    for start in range(first, last, 80):
        entries = []
        for number in range(start, min(start + 80, last)):
            trial = whole_trial(glass_key=f"demo-{number % 3}", glass_name=f"Demo glass {number % 3}")
            for entry in trial:
                entry["at_ms"] = WALL_0 + number * 60_000
            entries += trial
        with store.write() as session:
            assert {v.verdict for v in push(session, Batch(entries=entries), number)} == {"stored"}


@pytest.fixture
def asked(app):
    """Call with a path: (answer, the statements that it took)."""
    said: list[tuple[str, tuple]] = []
    event.listen(app.state.store.engine, "before_cursor_execute", lambda _c, _cursor, statement, given, *_more: said.append((statement, given)))

    def ask(path: str):
        said.clear()
        answer = Client(app).get(path)
        assert answer.status_code == 200, path
        return answer, [one for one in said if one[0].lstrip().upper().startswith(("SELECT", "WITH"))]

    return ask


def test_a_larger_book_takes_as_many_statements_and_no_larger_pages(app, asked):
    fill(app.state.store, 0, SMALL)
    small = {path: asked(path) for path in PATHS}
    fill(app.state.store, SMALL, LARGE)
    large = {path: asked(path) for path in PATHS}
    assert {path: len(said) for path, (_a, said) in large.items()} == {path: len(said) for path, (_a, said) in small.items()}
    for path in PATHS:
        assert len(large[path][0].content) <= 3.2 * len(small[path][0].content) if "glass" in path else len(large[path][0].content) <= 1.2 * len(small[path][0].content), path


def test_no_statement_of_the_list_or_the_feed_reads_a_whole_table(app, asked):
    """SQLite tells how it would go about it (https://sqlite.org/eqp.html): SEARCH uses an index, SCAN of a table reads all of it, a temporary B-tree sorts all of it."""
    fill(app.state.store, 0, SMALL)
    told = []
    with closing(sqlite3.connect(app.state.store.path)) as connection:
        for path in ("/results", "/results?glass=demo-1", "/results?before=1000", "/sync/feed.json?seq=0", "/sync/mark.json"):
            for statement, given in asked(path)[1]:
                steps = [row[3] for row in connection.execute(f"EXPLAIN QUERY PLAN {statement}", given)]
                told += [(path, step) for step in steps if re.match(r"SCAN trial_entry(?! USING)", step) or ("TEMP B-TREE" in step and "trial_entry" in statement and "subject IN" not in statement)]
    assert told == []


@pytest.mark.parametrize("glass", ["", "demo-2"])
def test_all_pages_together_list_every_trial_once(app, glass):
    fill(app.state.store, 0, 2 * SMALL)
    client, found, path = Client(app), [], f"/results?glass={glass}"
    while path:
        text = client.get(path).text
        found += re.findall(r'href="/results/trial/([^"]+)"', text)
        earlier = re.search(r'href="([^"]+)">Earlier trials<', text)
        path = earlier[1].replace("&amp;", "&") if earlier else None
    assert len(found) == len(set(found)) == (2 * SMALL if not glass else sum(n % 3 == 2 for n in range(2 * SMALL)))


def test_news_of_an_old_trial_brings_it_to_the_front_and_it_is_not_told_twice(app):
    fill(app.state.store, 0, SMALL)
    with closing(sqlite3.connect(app.state.store.path)) as connection:
        (oldest,) = connection.execute("SELECT subject FROM trial_entry ORDER BY seq LIMIT 1").fetchone()
    from tests.entries import entry

    with app.state.store.write() as session:
        push(session, Batch(entries=[entry("trial.noted", oldest, 6, {"text": "seen again, demo"})]), 1)
    client = Client(app)
    first = client.get("/results").text
    later = client.get(re.search(r'href="([^"]+)">Earlier trials<', first)[1].replace("&amp;", "&")).text
    assert oldest in first and oldest not in later
