"""The names of rows: which row is a statistic of others, which rows bear the same label, and what a row without a name is called."""

import re
from collections.abc import Iterable

from server.glass.cells import clean
from server.intake.columns import words

KINDS = ("mean", "rsd", "two_sd", "sd")
SPREADS = ("sd", "two_sd", "rsd", "count")
_LIMITS = frozenset("min max minimum maximum median range".split())
_NEVER_BEFORE = frozenset(("av", "mw", "n"))  # AV 12 is a sample
_DASHED = re.compile(r"(.+\w)\s*[-–—]\s*(mean|average|avg|mittelwert|moyenne|media|std|stdev|sd|s\.d\.|rsd)\.?", re.IGNORECASE)
_BETWEEN = re.compile(r"[\s,:;()/_]+")
_ORDINAL = re.compile(r"(?:spot|point|pt|nr|no|#|punkt|analysis)?[\s.#_-]*\d{1,3}[a-z]?", re.IGNORECASE)


def folded(label: str) -> str:
    """A label as it is compared: one kind of space, small letters."""
    return clean(label).casefold()


def counted(label: str) -> tuple[str, int | None]:
    """'BN-01 (n=5)' is the sample BN-01, analysed five times."""
    found = re.search(r"\s*[(,;]?\s*\bn\s*=\s*([1-9]\d{0,4})\s*\)?$", label)
    return (label[: found.start()], int(found[1])) if found and found.start() else (label, None)


def statistic_of(label: str) -> tuple[str, str]:
    """(mean, sd, two_sd, rsd, count or other; the label without that word), or ('', label)."""
    plain = clean(label).strip(" :()")
    if kind := _wholly(plain):
        return kind, ""
    if dashed := _DASHED.fullmatch(plain):
        return statistic_of(dashed[2])[0], dashed[1]
    parts = _BETWEEN.split(plain)
    if len(parts) < 2:
        return "", label
    first, last = parts[0].lower(), parts[-1].lower()
    for kind in KINDS:
        known = words()["statistics"][kind]
        if first in known and first not in _NEVER_BEFORE:
            return kind, " ".join(parts[1:])
        if last in known:
            return kind, " ".join(parts[:-1])
    if first in _LIMITS or last in _LIMITS:
        return "other", " ".join(parts[1:] if first in _LIMITS else parts[:-1])
    return "", label


def _kind_of(word: str) -> str:
    """The statistic of a word in small letters, with or without its points; '' for none."""
    forms = {word, word.rstrip("."), word.replace(".", "")}
    return next((kind for kind, known in words()["statistics"].items() if not forms.isdisjoint(known)), "")


def _wholly(plain: str) -> str:
    """The statistic that a text names and nothing else: 'SD', 'SD (1σ)', 'mean'; '' where it says something else too."""
    low = plain.lower()
    whole, parts = _kind_of(low), [part for part in _BETWEEN.split(low) if part]
    if whole or len(parts) < 2:
        return whole
    kinds = [_kind_of(part) for part in parts]
    return next((kind for kind in ("two_sd", "rsd", *kinds) if kind in kinds), "") if all(kinds) else ""


def statistic_among(cells: Iterable[str]) -> str:
    """The statistic that a cell beside the label says by itself, as 'mean' in a column of spots; '' for none."""
    for cell in cells:
        plain = counted(clean(cell))[0].lower().strip(" :()")
        kind = _wholly(plain) if len(plain) > 1 or plain in ("σ", "±", "ø") else ""
        if kind in KINDS or (kind == "other" and (plain in _LIMITS or len(plain) > 3)):
            return kind
    return ""


def is_ordinal(label: str) -> bool:
    """True for what only counts rows ('1', 'spot 3') and so names nothing by itself."""
    return bool(_ORDINAL.fullmatch(label))


def names(label: str, sample: str) -> bool:
    """Whether 'MF' names the sample 'MF-1': the same label, or its beginning up to a sign."""
    short, long = folded(label), folded(sample)
    return bool(short) and (long == short or (long.startswith(short) and not long[len(short)].isalnum()))
