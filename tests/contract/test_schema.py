"""A migrated new book is exactly what the classes say, in a file and in PostgreSQL."""

import pytest
from alembic import command
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from sqlalchemy import inspect, text
from sqlmodel import SQLModel

from server.glass import own
from server.store import migrate
from server.store.engine import Store
from server.store.sequence import next_number


def test_a_migrated_book_equals_the_classes(store):
    with store.engine.connect() as connection:
        context = MigrationContext.configure(connection, opts={"compare_type": True, "compare_server_default": True})
        assert compare_metadata(context, SQLModel.metadata) == []


def test_all_tables_are_there_and_the_first_number_is_1(store):
    with store.write() as session:
        assert set(inspect(session.connection()).get_table_names()) == {"alembic_version", "bench_entry", "counter", "trial_entry", "own_glass", "peer", "device_pass", "invite", "join_miss"}
        assert [next_number(session), next_number(session)] == [1, 2]


def described(store) -> list[str]:
    """Tables, columns and indexes, as SQLAlchemy finds them."""
    with store.engine.connect() as connection:
        found = inspect(connection)
        return sorted(str(part) for told in (found.get_multi_columns(), found.get_multi_indexes(), found.get_multi_unique_constraints()) for part in told.items())


def test_upgrading_twice_changes_nothing(store):
    before = described(store)
    migrate.upgrade(store)
    assert described(store) == before and len(before) > 20


def test_a_write_is_durable_and_one_at_a_time(store):
    """A second writer waits for the first: https://sqlite.org/lang_transaction.html (IMMEDIATE) and PostgreSQL's SELECT ... FOR UPDATE."""
    with store.write() as session:
        if store.is_postgres:
            assert session.execute(text("SHOW synchronous_commit")).scalar() == "on"
            with store.engine.connect() as other:
                assert other.execute(text("SELECT last FROM counter WHERE name = 'feed' FOR UPDATE SKIP LOCKED")).all() == []
        else:
            assert session.execute(text("PRAGMA synchronous")).scalar() == 2
            assert session.execute(text("PRAGMA journal_mode")).scalar() == "wal"


@pytest.fixture(params=["sqlite", "postgres"])
def old_book(request, tmp_path):
    """Where a book is to be."""
    return request.getfixturevalue("cluster").empty() if request.param == "postgres" else tmp_path / "bench.db"


def test_a_bench_book_of_the_first_step_keeps_its_glasses(old_book):
    """Columns added later read as 'not stated' and unknown for what was there."""
    store = Store(old_book)
    config = migrate._config()
    with store.engine.connect() as connection:
        config.attributes["connection"] = connection
        command.upgrade(config, "0001")
    columns = "id, seq, at_ms, device, name, family, period, region, source, note, surface, replaces, amounts, digest, received_ms"
    with store.write() as session:
        session.execute(text(f"INSERT INTO own_glass ({columns}) VALUES ('a', 1, 1, 'd', 'Old (invented)', '', '', '', '', '', 'section', '', '[{{\"name\": \"SiO2\", \"text\": \"70\", \"unit\": \"wt\"}}]', 'x', 1)".replace(":", "\\:")))
    migrate.upgrade(store)
    with store.read() as session:
        glass, handed_on = own.find(session, "a"), own.entries(session)
    store.close()
    assert (handed_on[0]["id"], handed_on[0]["subject"]) == ("a", "a")
    assert (glass.name, glass.method, glass.count, glass.originals) == ("Old (invented)", "not stated", "", {})
