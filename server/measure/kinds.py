"""The four tests: what each asks for, in one file that the entries, the pages and the tables all read."""

import json
import re
from functools import cache
from pathlib import Path

FILE = Path(__file__).with_name("data") / "tests.json"
LETTERS = "ABCDEFGHIJKL"
# The places of each test's readings; a number is a chip, a thread or a strip, a letter and a number a square of the board.
PLACES = {"pull": r"[1-9]", "thread": r"[1-6]", "fuse": r"[a-f][1-8]", "strip": r"[1-8]"}


@cache
def known_tests() -> dict[str, dict]:
    """Test -> its words, its setup and its quantities."""
    return json.loads(FILE.read_text(encoding="utf-8"))


@cache
def quantities() -> dict[str, dict]:
    """Quantity -> its words and limits, and the `test` it belongs to; no two tests share a name."""
    return {name: {**about, "test": test} for test, kind in known_tests().items() for name, about in kind["quantities"].items()}


def is_place(test: str, place: str) -> bool:
    """Whether a test can have a reading there."""
    return re.fullmatch(PLACES[test], place) is not None


def wrong_reading(place: str, quantity: str, value: float | None, word: str | None) -> str | None:
    """Why a reading cannot be taken; None where it can. An empty word takes a reading back."""
    about = quantities().get(quantity)
    if about is None:
        return "nothing is measured by this name"
    if not is_place(about["test"], place):
        return f"the {about['test']} test has no such place"
    if (value is None) == (word is None):
        return "a reading is either a number or a word"
    if word == "":
        return None
    if value is not None:
        return None if "min" in about and about["min"] <= value <= about["max"] else "the number is outside what can be measured"
    allowed = LETTERS if about.get("letters") else about.get("words", ())
    return None if word in tuple(allowed) else "this word is not one of the choices"


def wrong_setup(test: str, setup: dict[str, float | str], count: int) -> str | None:
    """Why a setup cannot be taken, with `count` glasses; None where it can."""
    asked, letters = known_tests()[test]["setup"], LETTERS[:count]
    if unknown := set(setup) - set(asked):
        return f"{sorted(unknown)[0][:40]} is not asked for"
    for name, about in asked.items():
        if name not in setup:
            if "default" not in about and not about.get("optional"):
                return f"{name} is missing"
        elif not _fits(about, setup[name], letters):
            return f"{name} is not one of the possible answers"
    return None


def _fits(about: dict, given: float | str, letters: str) -> bool:
    if "min" in about:
        return isinstance(given, float | int) and about["min"] <= given <= about["max"]
    if not isinstance(given, str):
        return False
    if "letters" in about:
        fewest, most = about["letters"]
        return fewest <= len(given) <= most and set(given) <= set(letters)
    return given in about["words"] if "words" in about else len(given) == 1 and given in letters


def whole_setup(test: str, setup: dict[str, float | str]) -> dict[str, float | str]:
    """A setup with what is usual in the place of what was not given; an optional answer without a usual one stays out."""
    usual = {name: about["default"] for name, about in known_tests()[test]["setup"].items() if "default" in about}
    return {**usual, **setup}
