"""The same entries give the same pages, byte for byte, whether they are kept in a SQLite file or in PostgreSQL."""

import re

import pytest

from demo.workshop import fill
from server.app import DOMAINS, create_app, open_store
from server.settings import Settings
from server.store.engine import Store
from server.store.move import move
from tests.client import Client


@pytest.fixture(scope="module")
def both(cluster, tmp_path_factory):
    """Clients of one filled bench book on each database, and the paths of the domains that take no number."""
    place = tmp_path_factory.mktemp("both") / "bench.db"
    url = cluster.empty()
    store = open_store(Settings(database=place))
    fill(store)
    target = Store(url)
    move(store, target)
    target.close()
    store.close()
    apps = [create_app(Settings(database=place)), create_app(Settings(database_url=url))]
    paths = sorted({r.path for d in DOMAINS for r in d.router.routes if "GET" in r.methods and "{" not in r.path})
    yield *(Client(app) for app in apps), paths
    for app in apps:
        app.state.store.close()


MADE_ANEW = re.compile(rb'data-made-ms="\d+"|20\d\d-\d\d-\d\dT[\d:]+Z')


def test_every_page_that_takes_no_number_is_the_same(both):
    """But for the moment at which a page was drawn."""
    one, other, paths = both
    answers = {path: (one.get(path), other.get(path)) for path in paths if not path.endswith(".zip") and path != "/keeping"}  # a ZIP holds its moment, and that page says where the book is
    told = {path: [(a.status_code, MADE_ANEW.sub(b"", a.content)) for a in pair] for path, pair in answers.items()}
    assert [path for path, (a, b) in told.items() if a != b] == []
    assert sum(a.status_code == 200 for a, _ in answers.values()) > 15


def test_safe_keeping_speaks_of_what_there_is_for_each(both):
    one, other, _paths = both
    file, postgres = one.get("/keeping").text, other.get("/keeping").text
    assert "Back up now" in file and "isokom restore" in file and "pg_dump" not in file
    assert "pg_dump" in postgres and not any(words in postgres for words in ("Back up now", "isokom restore", "There is no backup yet", "How often"))
