"""A migrated new file is exactly what the classes say."""

from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from sqlalchemy import inspect, text
from sqlmodel import SQLModel

from server.store import migrate
from server.store.sequence import next_number


def test_migrated_file_equals_the_classes(store):
    with store.engine.connect() as connection:
        context = MigrationContext.configure(connection, opts={"compare_type": True, "compare_server_default": True})
        assert compare_metadata(context, SQLModel.metadata) == []


def test_all_tables_are_there_and_the_first_number_is_1(store):
    with store.write() as session:
        assert set(inspect(session.connection()).get_table_names()) == {"alembic_version", "counter", "trial_entry", "own_glass"}
        assert [next_number(session), next_number(session)] == [1, 2]


def test_upgrading_twice_changes_nothing(store):
    with store.read() as session:
        before = session.execute(text("SELECT sql FROM sqlite_master ORDER BY name")).all()
    migrate.upgrade(store)
    with store.read() as session:
        assert session.execute(text("SELECT sql FROM sqlite_master ORDER BY name")).all() == before


def test_a_write_is_durable_and_immediate(store):
    with store.write() as session:
        assert session.execute(text("PRAGMA synchronous")).scalar() == 2
        assert session.execute(text("PRAGMA journal_mode")).scalar() == "wal"
