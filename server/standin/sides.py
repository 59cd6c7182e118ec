"""Who may stand in for whom: modern glass for the torch, old glass to be matched, reference glass for checks only."""

import re

from server.glass.catalog import Glass

MODERN, ANCIENT, EITHER, REFERENCE = "modern", "ancient", "either", "reference"
MODERN_PERIODS = frozenset({"modern", "20th c."})
_MODERN_WORDS = re.compile(r"\b((?<!early )(?<!early-)modern|today|contemporary|present|studio|20th|21st|20\d\d|19[5-9]\d)\b", re.I)
_BEFORE_CHRIST = re.compile(r"\bB\.?C", re.I)


def side_of(glass: Glass) -> str:
    """Catalogue: by period and kind. Own glasses: by the words of their period, EITHER where nothing is said."""
    if glass.kind == "certified":
        return REFERENCE
    if glass.kind != "own analysis":
        return MODERN if glass.period in MODERN_PERIODS else ANCIENT
    if not glass.period.strip():
        return EITHER
    return MODERN if _MODERN_WORDS.search(glass.period) and not _BEFORE_CHRIST.search(glass.period) else ANCIENT


def taken_as(glass: Glass, asked: str) -> str:
    """MODERN or ANCIENT: as asked for an own glass, else by what it is; a rod of unknown period and a reference glass count as modern."""
    if asked and glass.kind == "own analysis":
        return asked
    return ANCIENT if side_of(glass) == ANCIENT else MODERN


def partners(glass: Glass, side: str, among: list[Glass], with_references: bool) -> list[Glass]:
    """The glasses of the other side: modern ones for an ancient glass (reference glasses if wanted), ancient ones for a modern."""
    wanted = {EITHER, MODERN if side == ANCIENT else ANCIENT}
    if with_references and side == ANCIENT:
        wanted.add(REFERENCE)
    return [other for other in among if other.key != glass.key and side_of(other) in wanted]
