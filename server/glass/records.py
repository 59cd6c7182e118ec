"""A CSV file as records, one at a time: a quotation mark that is never closed costs its own row, not the rest of the file."""

import csv
from collections.abc import Iterable, Iterator

LONGEST_RECORD_LINES = 20
csv.field_size_limit(2**31 - 1)  # an absurdly long cell is a bad cell of its row, not the end of the file


def ends_open(text: str) -> bool:
    """True when a quoted cell (RFC 4180) of this text is still open at its end."""
    is_open, at_start = False, True
    for i, mark in enumerate(text):
        if mark != '"':
            at_start = mark == "," and not is_open
        elif is_open:
            is_open = False
        elif at_start or text[i - 1 : i] == '"':
            is_open, at_start = True, False
    return is_open


def _is_sound(text: str) -> bool:
    """True where a quoted cell ends at a comma or the line's end: two stray marks far apart are no cell."""
    try:
        return len(list(csv.reader([text], strict=True))) == 1
    except csv.Error:
        return False


def records(lines: Iterable[str]) -> Iterator[tuple[str, bool]]:
    """(text of a record, whether its quotation mark is never closed), blank lines left out.

    A quoted cell may go over up to LONGEST_RECORD_LINES lines; a broken record is its first line without the marks.
    """
    lines = iter(lines)
    waiting: list[str] = []
    while True:
        line = waiting.pop(0) if waiting else next(lines, None)
        if line is None:
            return
        if '"' in line and ends_open(line):
            whole, waiting = _closed(line, waiting, lines)
            yield (whole, False) if whole else (line.replace('"', ""), True)
        elif line.strip():
            yield line, False


def _closed(line: str, waiting: list[str], lines: Iterator[str]) -> tuple[str | None, list[str]]:
    """(the record with the lines that close it, or None; the lines still to be read)."""
    text, taken = line, []
    while len(taken) < LONGEST_RECORD_LINES:
        following = waiting.pop(0) if waiting else next(lines, None)
        if following is None:
            break
        taken.append(following)
        text += following
        if not ends_open(text):
            return (text, waiting) if _is_sound(text) else (None, taken + waiting)
    return None, taken + waiting
