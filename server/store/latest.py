"""Statements of which the latest counts (the facts of a find, its keeper's consent, whether a time counts), said on machines that may not have heard of each other. Pure; its twin is static/web/latest.js.

A statement may say in its body which earlier ones it comes after: `over`, their numbers. Those that no other comes after are the latest. Where several are, nobody
has decided between them: both stay, the last one by the clock counts everywhere, and a person may settle it by one more that comes after them all. A statement
without `over` comes after everything that the clock places before it, which is how it was meant before there was an `over`. What opens a matter comes before all else.
"""

from collections.abc import Callable, Iterable
from typing import Annotated

from pydantic import Field, model_serializer

from server.store.log import Id7, Strict

OPENING = (".opened", ".added")


class Statement(Strict):
    """The body of an entry of which the latest counts. `over`: the numbers of those that it comes after; left out where it is not said, so that the seal of an older entry stays the same."""

    over: Annotated[list[Id7], Field(max_length=50)] | None = None

    @model_serializer(mode="wrap")
    def _without_a_silent_over(self, write):
        return {key: value for key, value in write(self).items() if key != "over" or value is not None}


def said(statement: dict) -> dict:
    """What a statement says, without what it comes after."""
    return {name: value for name, value in statement["body"].items() if name != "over"}


def _opens(statement: dict) -> bool:
    return statement.get("kind", "").endswith(OPENING)


def latest(statements: Iterable[dict]) -> list[dict]:
    """The statements (entries as on the wire, of one subject and matter) that no other comes after, by the clock; the last one counts. At least one where there is any."""
    ordered = sorted(statements, key=lambda one: (one["at_ms"], one["id"]))
    ordered = [one for one in ordered if not _opens(one)] or ordered
    past: set[str] = set()
    for place, one in enumerate(ordered):
        over = one["body"].get("over")
        past |= {other["id"] for other in ordered[:place]} if over is None else set(over) - {one["id"]}
    return [one for one in ordered if one["id"] not in past] or ordered[-1:]


def disagree(statements: list[dict], what: Callable[[dict], object] = said) -> bool:
    """Whether these say different things; `what` tells what a statement says."""
    return any(what(one) != what(statements[0]) for one in statements[1:])
