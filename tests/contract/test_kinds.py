"""Entries are found by the word before the point of their kind through an index, in a file and in PostgreSQL of whatever language. The databases themselves tell how (https://sqlite.org/eqp.html)."""

import re
import uuid
from contextlib import closing

import pytest
from sqlalchemy import event, text
from sqlmodel import select

from server.app import open_store
from server.find import log as find_log
from server.measure import log as measure_log
from server.plan import log as plan
from server.settings import Settings
from server.store import log
from server.store.kinds import of_words
from server.store.log import BenchEntry
from tests.books import empty_book
from tests.entries import DEVICE

KINDS = ("caution.seen", "find.opened", "finding.margin", "measure.photo", "piece.added", "plan.closed", "plan.made", "plan", "plan-b.made", "planet.seen", "Plan.made", "plan/made")


def fill(store) -> None:
    """One entry of each kind, also of such as only look alike."""
    with store.write() as session:
        for seq, kind in enumerate(KINDS, 1):
            session.add(BenchEntry(id=str(uuid.uuid4()), seq=seq, kind=kind, subject=str(uuid.uuid4()), n=0, device=DEVICE, at_ms=seq, body='{"is_blind": false}', digest="x", received_ms=seq))


def spoken(cluster, language: str) -> Settings:
    """A book whose kinds, and their index, are in the order of a language, as in a database that was made in it: ICU's "en-x-icu" passes over points at first."""
    url = cluster.book()
    cluster.sql(f'ALTER TABLE bench_entry ALTER kind TYPE varchar(40) COLLATE "{language}"', url.split("/")[3].split("?")[0])
    return Settings(database_url=url)


@pytest.fixture(params=["sqlite", "C", "en-x-icu"])
def anywhere(request, database):
    """A book in a file, or in a database of one or another order of letters."""
    with closing(open_store(Settings(database=empty_book(database)) if request.param == "sqlite" else spoken(request.getfixturevalue("cluster"), request.param))) as opened:
        yield opened


def test_exactly_the_kinds_of_a_word_are_found(anywhere):
    fill(anywhere)
    with anywhere.read() as session:
        assert [e["kind"] for e in plan.entries(session)] == ["plan.closed", "plan.made"]
        assert [e["kind"] for e in find_log.entries(session)] == ["find.opened", "piece.added"]
        assert [e["kind"] for e in log.entries(session, "finding")] == ["finding.margin"]
        assert (log.last_seq(session, "plan"), log.last_seq(session, "find", "piece"), log.last_seq(session, "none")) == (7, 5, 0)
        assert measure_log.all_measured(session) == []
    with pytest.raises(ValueError, match="one plain word"):
        of_words(BenchEntry.kind, "plan' OR '1'='1")


def test_no_question_for_a_word_reads_the_whole_table(store):
    fill(store)
    said = []
    event.listen(store.engine, "before_cursor_execute", lambda _c, _cursor, statement, given, *_more: said.append((statement, given)))
    with store.read() as session:
        for ask in (plan.entries, find_log.entries, measure_log.all_measured, measure_log.last_seq, lambda s: log.last_seq(s, "find", "piece")):
            ask(session)
    asked = [one for one in said if "bench_entry" in one[0]]
    assert len(asked) >= 6
    with store.engine.connect() as connection:
        steps = [row[3] for statement, given in asked for row in connection.exec_driver_sql(f"EXPLAIN QUERY PLAN {statement}", given)]
    assert [step for step in steps if re.match(r"SCAN bench_entry", step)] == [] and any("ix_bench_entry_kind" in step for step in steps)


def test_postgres_goes_by_the_index_too(cluster):
    with closing(open_store(spoken(cluster, "en-x-icu"))) as store, store.engine.connect() as connection:
        connection.execute(text("INSERT INTO bench_entry (id, seq, kind, subject, n, device, at_ms, body, digest, received_ms) SELECT g::text, g, 'measure.read', g::text, 0, '', g, '{}', '', g FROM generate_series(1, 20000) AS g"))
        connection.execute(text("INSERT INTO bench_entry (id, seq, kind, subject, n, device, at_ms, body, digest, received_ms) VALUES ('p', 20001, 'plan.made', 'p', 0, '', 1, '{}', '', 1)"))
        connection.execute(text("ANALYZE bench_entry"))
        asked = str(select(BenchEntry.id).where(of_words(BenchEntry.kind, "plan")).compile(connection.engine, compile_kwargs={"literal_binds": True}))
        steps = [row[0] for row in connection.exec_driver_sql(f"EXPLAIN {asked}".replace("%", "%%"))]
        assert connection.exec_driver_sql(asked).scalars().all() == ["p"]
    assert not any("Seq Scan on bench_entry" in step for step in steps), steps
