"""Brings the entries of a package into the bench book, through the door that tablets use."""

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import islice

from server.package.reading import Row
from server.store.engine import Store
from server.sync.push import MAX_ENTRIES, Batch, Verdict, push

SHOWN = 40


@dataclass(frozen=True)
class Brought:
    """What became of a package: how many entries were stored, were here already, or were refused (`refused_count`).

    `why`: [(message, how many)], the most frequent first. `refused`: the first of them as (row, kind, message).
    """

    stored: int
    same: int
    why: list[tuple[str, int]]
    refused: list[tuple[int, str, str]]
    refused_count: int


def _judged(store: Store, rows: list[Row], received_ms: int) -> list[Verdict]:
    """Verdicts in the order of the rows; those that are entries go in by one transaction."""
    with store.write() as session:
        verdicts = iter(push(session, Batch(entries=[row.entry for row in rows if row.entry is not None]), received_ms))
    return [Verdict(id="", verdict="refused", code="no_entry", message=row.why) if row.entry is None else next(verdicts) for row in rows]


def bring(store: Store, rows: Iterable[Row], received_ms: int) -> Brought:
    """Hand all rows in, MAX_ENTRIES at a time, so that tablets get in between. Raises Unavailable.

    What was stored stays when a later batch fails; bringing the package in again then goes on from there.
    """
    rows, counts, why, refused = iter(rows), Counter(), Counter(), []
    while part := list(islice(rows, MAX_ENTRIES)):
        for row, verdict in zip(part, _judged(store, part, received_ms), strict=True):
            counts[verdict.verdict] += 1
            if verdict.verdict == "refused":
                why[verdict.message] += 1
                refused += [(row.line, str((row.entry or {}).get("kind", ""))[:40], verdict.message)][: SHOWN - len(refused)]
    return Brought(counts["stored"], counts["same"], why.most_common(SHOWN), refused, counts["refused"])
