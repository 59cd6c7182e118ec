"""What a test comes to, with what the desk knows of its glasses."""

import re

from sqlmodel import Session

from server.errors import Missing
from server.glass import catalog, own
from server.measure import log
from server.measure.entry import LETTERS
from server.measure.result import forecast, result
from server.measure.shape import Result
from server.store.log import UUID


def _estimate(session: Session, key: str) -> dict | None:
    """The report of a known glass; None where the desk does not have it."""
    try:
        number = key.removeprefix("own/")
        return (own.find(session, number) if re.fullmatch(UUID, number) else catalog.find(key)).report
    except Missing:
        return None


def reckoned(session: Session, measured: log.Measured) -> Result | None:
    """What the readings come to so far; None while the start has not arrived."""
    if measured.test is None:
        return None
    return result(measured.test, list(measured.glasses), measured.setup, measured.readings, _estimates(session, measured))


def foreseen(session: Session, measured: log.Measured) -> list[str]:
    """What the firing would do, while nothing has been read after it."""
    is_before = measured.status == "running" and not any("_after_" in q or q in ("rounding", "skin") for _place, q in measured.readings)
    return forecast(measured.test, list(measured.glasses), measured.setup, _estimates(session, measured)) if is_before else []


def _estimates(session: Session, measured: log.Measured) -> dict[str, dict]:
    """Letter -> report of the glasses that the desk has."""
    found = {letter: _estimate(session, glass["key"]) for letter, glass in zip(LETTERS, measured.glasses, strict=False) if glass["key"]}
    return {letter: report for letter, report in found.items() if report is not None}
