"""Headings -> what each column holds: its role, the oxide or element, and the unit, with how sure that is."""

import json
import re
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path

from server.errors import Refused
from server.glass.cells import clean
from server.physics.composition import OXIDE_OF_ELEMENT, OXIDES

ROLES = ("id", "name", "period", "region", "family", "source", "note", "total", "count", "repeat", "oxide", "element", "sd", "ignore")
UNITS = ("wt", "mol", "ppm", "ppb")
# (role, unit as printed) -> (unit as kept, power of ten): what is kept is oxide wt%, oxide mol% or element ppm.
KEPT_AS = {
    ("oxide", "wt"): ("wt", 0), ("oxide", "mol"): ("mol", 0), ("oxide", "ppm"): ("wt", -4), ("oxide", "ppb"): ("wt", -7),
    ("element", "ppm"): ("ppm", 0), ("element", "wt"): ("ppm", 4), ("element", "ppb"): ("ppm", -3),
}
_BY_LOWER = {name.lower(): name for name in OXIDES}
_PCT = r"(?:%|pct\.?|percent|prozent)"
_UNIT_MARKS = (
    ("mol", rf"mol(?:e|ar)?[\s.\-]*{_PCT}|{_PCT}\s*mol\w*"),
    ("at", rf"at(?:om|omic)?[\s.\-]*{_PCT}"),
    ("ppb", r"ppb|ng/g|ng g-1|μg/kg"),
    ("ppm", r"ppmw?|mg/kg|mg kg-1|[μu]g/g|[μu]g\s?\.?g-1|g/t"),
    ("wt", rf"(?:wt|weight|w|mass|m|ma|gew|gewichts?|massen?|masse|pds|poids|peso|oxide?)?[\s.\-]*{_PCT}(?:\s*(?:wt|weight|mass|massique|in peso|en poids|poids|pds|m|peso|masse))?|g/100\s?g|wt"),
)
_UNIT = re.compile(r"(?<![A-Za-z0-9])(?:" + "|".join(f"(?P<{name}>{marks})" for name, marks in _UNIT_MARKS) + r")(?![A-Za-z0-9])", re.IGNORECASE)
_IRON = re.compile(r"(?:σ|∑|total|tot\.?)?\s*(?:iron|fe|eisen|fer|ferro)?\s*(?:\(?(?:total|tot\.?|gesamt)\)?)?\s*(?:as|als|en|come|=)?\s*(feo|fe2o3)\s*[\s(\[,_]*(?:t|tot|total|totale?|gesamt|all|\*)?\.?[\])]*", re.IGNORECASE)
_SD = re.compile(
    r"(?P<rel>(?:%\s*)?\brsd\b(?:\s*%)?|\bcv\b|rel\.?\s*(?:sd|std|err\w*|stabw\.?))"
    r"|(?P<two>(?<![A-Za-z0-9])2\s*(?:σ|sigma|s\.?d\.?|s)(?![A-Za-z0-9]))"
    r"|(?P<one>±|\+/-|(?:\b1\s*)?(?:σ|\bsigma\b)|\b1?\s?s\.?d\.?(?![A-Za-z0-9])|\b1s\b|\bst(?:d|\.)?[\s.]*dev(?:iation)?\b\.?|\bstd\b\.?|\bstandard deviation\b|\bstabw\b\.?|\bstandardabweichung\b|[eé]cart[\s-]type|\bdev(?:iazione)?\.?\s*st(?:andard|d)?\b\.?|\berr(?:or)?\b\.?|\bunc(?:ertainty|ert)?\b\.?|\bincert\w*|\bunsicherheit\b|\bfehler\b)",
    re.IGNORECASE,
)


@dataclass(frozen=True)
class Column:
    """One column as understood. `of` is the oxide or element; for sd the index of its column is `beside`, `factor` and `is_relative` how to take it.

    `is_twice`: left out because its metal is counted in another column, `instead`; `apart` are the rows in which that one says something else."""

    heading: str
    role: str
    of: str = ""
    unit: str = ""
    is_sure: bool = True
    why: str = ""
    beside: int = -1
    factor: float = 1.0
    is_relative: bool = False
    is_total_iron: bool = False
    is_twice: bool = False
    apart: frozenset[int] = frozenset()
    instead: int = -1

    @property
    def is_analyte(self) -> bool:
        return self.role in ("oxide", "element")


@cache
def words() -> dict:
    """The words of headings by role (data/headings.json)."""
    return json.loads((Path(__file__).with_name("data") / "headings.json").read_text(encoding="utf-8"))


@cache
def _role_of_word() -> dict[str, str]:
    return {word: role for role, known in words()["roles"].items() for word in known}


def unit_of(text: str) -> str:
    """wt, mol, ppm, ppb or at (atomic per cent) that a text names; '' for none."""
    found = _UNIT.search(clean(text))
    return found.lastgroup if found else ""


def is_unit(text: str) -> bool:
    """True where a cell holds a unit and nothing else, as under a heading."""
    return bool(_UNIT.fullmatch(clean(text).strip("()[] ")))


def analyte_of(text: str) -> tuple[str, str, bool]:
    """(role, oxide or element, whether all iron) that a heading without its unit names; ('', '', False) for none."""
    plain = re.sub(r"</?su[bp]>|[_{}$]", "", text, flags=re.IGNORECASE).strip(" ()[]:*†‡,;.")
    tight = plain.replace(" ", "")
    if tight.lower() in _BY_LOWER and not re.fullmatch(r"[a-z]{1,2}", tight):
        return "oxide", _BY_LOWER[tight.lower()], text.strip().endswith("*") and tight.lower() in ("feo", "fe2o3")
    if iron := _IRON.fullmatch(text.strip(" :")):
        return "oxide", _BY_LOWER[iron[1].lower()], True
    if plain.lower() in words()["analytes"]:
        return "oxide", words()["analytes"][plain.lower()], False
    isotope = re.fullmatch(r"(?:\d{1,3})?([A-Z][a-zA-Z]?)(?:\d{1,3})?", tight)
    element = isotope[1].capitalize() if isotope else ""
    return ("element", element, False) if element in OXIDE_OF_ELEMENT else ("", "", False)


def column_of(heading: str, unit_below: str = "") -> Column:
    """What a heading alone says. A bare 'sd' has no column yet (beside -1)."""
    plain = clean(heading)
    unit = unit_of(plain) or unit_of(unit_below)
    bare = re.sub(r"[(\[]\s*[)\]]", "", _UNIT.sub(" ", plain)).strip(" ,;/")
    role, of, is_iron = analyte_of(bare)
    if role:
        return _analyte(heading, role, of, unit, is_iron)
    word = re.sub(r"[.:]", "", bare).strip().lower()
    if word in _role_of_word():
        return Column(heading, _role_of_word()[word])
    if plain == "s":
        return Column(heading, "sd")
    if deviation := _SD.search(plain):
        rest = _SD.sub(" ", plain)
        _role, of, _iron = analyte_of(re.sub(r"[(\[]\s*[)\]]|\b(?:on|of|in|von|de)\b", "", _UNIT.sub(" ", rest)).strip())
        return Column(heading, "sd", of, unit, factor=0.5 if deviation["two"] else 1.0, is_relative=bool(deviation["rel"]))
    return _among_words(heading, bare, unit) or _unread(heading, bare)


def _among_words(heading: str, bare: str, unit: str) -> Column | None:
    """The one oxide that stands among other words ('SiO2 EPMA'): taken, but to be checked."""
    found = {name for token in re.split(r"[\s(),;/_-]+", bare) if (name := _BY_LOWER.get(token.lower())) and len(name) > 2}
    if len(found) != 1:
        return None
    return replace(_analyte(heading, "oxide", found.pop(), unit, False), is_sure=False, why="the other words of the heading are not understood")


def _analyte(heading: str, role: str, of: str, unit: str, is_iron: bool) -> Column:
    if of in ("Cl", "F") and unit in ("ppm", "ppb"):
        role = "element"
    if unit == "at" or (role, unit) == ("element", "mol"):
        return Column(heading, "ignore", why="atomic per cent is not read: bring the oxides in wt% or mol%")
    return Column(heading, role, of, unit, is_total_iron=is_iron)


def _unread(heading: str, bare: str) -> Column:
    if bare.upper() in words()["not_glass"]["of"]:
        return Column(heading, "ignore", why=words()["not_glass"]["why"])
    if re.fullmatch(r"(?:[A-Z][a-z]?\d?){1,2}O?\d?", bare) and re.search(r"[a-z]|O", bare):
        is_other_oxide = bare.endswith(tuple("O0123456789")) and any(re.match(rf"{e}(?![a-z])", bare) for e in OXIDE_OF_ELEMENT)
        return Column(heading, "ignore", why="Isokom knows no oxide or element of this name; it is left out", is_sure=not is_other_oxide)
    first = re.split(r"[\s(/]", bare.lower())[0] if bare else ""
    role = _role_of_word().get(first.strip(".:"), "")
    if role and role not in ("total", "count"):
        return Column(heading, role, is_sure=False)
    return Column(heading, "ignore", why="not understood" if heading.strip() else "no heading", is_sure=not heading.strip())


def corrected(column: Column, role: str, of: str, unit: str) -> Column:
    """The column as the person says. Raises Refused for what no column can be."""
    known = {"oxide": OXIDES, "element": tuple(OXIDE_OF_ELEMENT)}
    if role not in ROLES or (role in known and of not in known[role]) or (unit and unit not in UNITS):
        raise Refused(f"{role[:20]} {of[:20]} {unit[:20]} is nothing that a column can be.", code="no_such_role")
    if role in known:
        if unit and (role, unit) not in KEPT_AS:
            raise Refused(f"{of} cannot be in {unit}%: an element is read in ppm or wt%.", code="no_such_role")
        return Column(column.heading, role, of, unit or ("wt" if role == "oxide" else "ppm"), why="as you said")
    if role == "sd":
        return replace(column, role="sd", of=of if column.role != "sd" else column.of, is_sure=True, why="as you said", beside=-1)
    return Column(column.heading, role, why="as you said")
