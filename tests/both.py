"""The contract of what is stored holds on a SQLite file and on a real PostgreSQL: the tests of these modules run on both. A conftest.py takes the hook and the fixtures from here."""

import pytest

from server.app import create_app, open_store
from server.settings import Settings
from tests.books import empty_book

ON_BOTH = {"test_find_pages", "test_finding_pages", "test_measure_pages", "test_package", "test_queue", "test_schema", "test_sync", "test_access"}
USES = {"app", "store"}
ON_BOTH_FOR = {"test_access": {"device", "code"}}  # of these only the tests that use one of those: the others store nothing


def pytest_generate_tests(metafunc):
    """Run a test of stored entries once on each kind of database; one that opens the file itself stays with the file."""
    name = metafunc.module.__name__.rsplit(".", 1)[-1]
    if name in ON_BOTH and ON_BOTH_FOR.get(name, USES) & set(metafunc.fixturenames) and not {"database", "live_server"} & set(metafunc.definition._fixtureinfo.argnames):
        metafunc.parametrize("kept_in", ["sqlite", "postgres"], indirect=True)


@pytest.fixture
def kept_in(request) -> str:
    return getattr(request, "param", "sqlite")


@pytest.fixture
def where(kept_in, database, request) -> Settings:
    """Settings of this test's bench book."""
    return Settings(database_url=request.getfixturevalue("cluster").book()) if kept_in == "postgres" else Settings(database=empty_book(database))


@pytest.fixture
def store(where):
    """An open bench book."""
    opened = open_store(where)
    yield opened
    opened.close()


@pytest.fixture
def app(where):
    """The whole app on a bench book of its own, in this process."""
    made = create_app(where)
    yield made
    made.state.store.close()
