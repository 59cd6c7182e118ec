"""Pure: the margins that persons said of two groups, on whatever device, and which of them counts."""

from collections.abc import Iterable

from server.store.latest import latest

TwoGroups = tuple[frozenset[str], str]  # keys as in selection.py, in no order, and the lane


def said_of_pairs(entries: Iterable[dict]) -> dict[TwoGroups, list[dict]]:
    """For each two groups and lane: the latest margins that were said of them, of which the last counts."""
    told: dict[TwoGroups, list[dict]] = {}
    for entry in entries:
        body = entry["body"]
        told.setdefault((frozenset((body["first"], body["second"])), body["lane"]), []).append(entry)
    return {pair: latest(statements) for pair, statements in told.items()}


def percent_of(statement: dict) -> float:
    """The margin itself."""
    return statement["body"]["percent"]
