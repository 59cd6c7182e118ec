"""Readings of a measured test -> what it comes to, in words and numbers, and what its setup lets foresee. Pure; the sums are in server/physics."""

from server.measure import fuse, pull, strip, thread
from server.measure.saying import Asked
from server.measure.shape import Result

TESTS = {"pull": pull.result, "thread": thread.result, "fuse": fuse.result, "strip": strip.result}


def forecast(test: str, glasses: list[dict], setup: dict, estimates: dict[str, dict]) -> list[str]:
    """What can be foreseen before anything is read, in sentences; empty for the tests where nothing can."""
    return fuse.forecast(Asked(glasses, setup, {}, estimates)) if test == "fuse" else []


def result(test: str, glasses: list[dict], setup: dict, readings: dict[tuple[str, str], float | str], estimates: dict[str, dict]) -> Result:
    """What a test comes to so far. Missing readings are named, and refused says why there is no number.

    readings: the latest by (place, quantity); estimates: letter -> the report of server.physics.report, or absent.
    """
    return TESTS[test](Asked(glasses, setup, readings, estimates))
