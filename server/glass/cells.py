"""One cell -> what it says: amount, below a limit, not found, with its sd. The decimal mark is decided over the column, then the table."""

import re
import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

from server.errors import BadComposition, Refused
from server.physics.composition import ABSENT, parse_number

NOTHING_FOUND = ABSENT | frozenset(
    "/ . .. ... … b.d b.d.l <loq <mdl <bdl lod n.d n.a n/a nm n.m. n.d.p. nn n.n n.n. ng n.g. n.b n.b. "
    "traces trc spur spuren sp. tracce tr.ce ud u.d. udl bql bll <ng <bg <nwg <nwgr <nw nwg ld <ld <ldd <l.d. nil none null".split()
) | {"not detected", "not found", "not analysed", "not analyzed", "not determined", "not measured", "below detection", "nicht nachgewiesen", "nicht bestimmt", "non détecté", "non determiné", "non déterminé", "non rilevato", "below dl", "below lod"}
_NUMBER = r"(?:\d[\d.,]*|[.,]\d+)(?:[eE][+-]?\d{1,2})?"
_PLUS_MINUS = re.compile(rf"({_NUMBER})\s*(?:±|\+/-|\+-)\s*({_NUMBER})")
_BRACKET = re.compile(rf"({_NUMBER})(\s*)\(\s*(?:±\s*)?({_NUMBER})\s*\)")
_UNIT = re.compile(r"\s*(wt\.?\s?%|%|ppm|mg/kg|μg/g|ug/g)$", re.IGNORECASE)
_MARKED = re.compile(r"(?<=\d)\s*(?:[*†‡§#]+|\s[a-e]|\^?[a-e])$")
_RAISED = re.compile(r"(?<=\d)\s*[⁰¹²³⁴-⁹]+\s*$")
_GROUPED = re.compile(r"(?<=\d)[\s'’](?=\d{3}(?!\d))")
_ABOUT = re.compile(r"(?:[~≈]|ca?\.?|approx\.?|um|env\.?)\s*(?=[.,]?\d)", re.IGNORECASE)
_DATE = re.compile(r"\d{4}-\d{2}-\d{2}$|\d{1,2}\.?[ -]?(?:jan|feb|mar|mär|mrz|apr|may|mai|jun|jul|aug|sep|oct|okt|nov|dec|dez)\w*\.?(?:[ -]?\d{2,4})?$", re.IGNORECASE)


LONGEST_FIGURE = 60


class Exact(str):
    """A cell that the file itself stores as a number: its point is a decimal point, whatever the rest of the table does."""


@dataclass(frozen=True)
class Cell:
    """What a cell says: `value` is None where nothing was found; `is_below` makes it a limit; `sd` is as printed, in the cell's own unit."""

    raw: str
    value: Decimal | None
    is_below: bool = False
    sd: Decimal | None = None
    unit: str = ""
    remark: str = ""


def clean(text: str) -> str:
    """The cell with one kind of space, low and high figures made plain, and one sign for each meaning."""
    text = unicodedata.normalize("NFKC", text)
    text = "".join(c for c in text if unicodedata.category(c) != "Cf")
    return re.sub(r"\s+", " ", text).replace("−", "-").replace("‹", "<").replace("≤", "<").replace("＜", "<").strip()


def decimal_mark(cells: Iterable[str]) -> str:
    """',' or '.' where the cells leave no doubt, '' where they say nothing, '?' where they disagree."""
    seen = {mark for cell in cells if not isinstance(cell, Exact) and len(cell) <= LONGEST_FIGURE for figure in re.findall(_NUMBER, _GROUPED.sub("", clean(cell))) if (mark := _mark_of(figure))}
    return "?" if len(seen) > 1 else next(iter(seen), "")


def _mark_of(figure: str) -> str:
    """The decimal mark that one figure proves; '' where it could be a thousands mark."""
    commas, points = figure.count(","), figure.count(".")
    if commas and points:
        last = max(figure.rfind(","), figure.rfind("."))
        return figure[last]
    if commas + points != 1:
        return {(True, False): ".", (False, True): ","}.get((commas > 1, points > 1), "")
    mark = "," if commas else "."
    whole, part = re.split(r"[.,]", re.split(r"[eE]", figure)[0])
    return mark if len(part) != 3 or whole in ("", "0") or len(whole) > 3 else ""


def number(figure: str, mark: str, largest: float) -> Decimal:
    """The value of a figure under a decimal mark ('' or '?' for not known). Raises Refused where it can be read two ways, or not at all."""
    plain = _GROUPED.sub("", figure)
    if "," in plain and "." in plain:
        decimal = plain[max(plain.rfind(","), plain.rfind("."))]
        plain = plain.replace("." if decimal == "," else ",", "")
        return _decimal(plain.replace(decimal, "."), figure)
    found = "," if "," in plain else "."
    if plain.count(found) > 1:
        if not re.fullmatch(rf"\d{{1,3}}(\{found}\d{{3}})+", plain):
            raise Refused(f"“{figure[:40]}” is not a number.", code="not_a_number")
        return _decimal(plain.replace(found, ""), figure)
    if found in plain and not _mark_of(plain) and mark != found:
        whole = _decimal(plain.replace(found, ""), figure)
        if mark in (",", ".") and whole <= largest:
            return whole
        if found == "," and whole <= largest:
            raise Refused(f"{figure} can be read two ways: as {plain.replace(',', '.')} or {whole}. Choose the decimal mark.", code="ambiguous_comma")
    return _decimal(plain.replace(",", "."), figure)


def _decimal(text: str, figure: str) -> Decimal:
    if not re.fullmatch(r"(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d{1,2})?", text, re.ASCII) or len(text) > 40:
        raise Refused(f"“{figure[:40]}” is not a number.", code="not_a_number")
    return Decimal(text)


def read_cell(text: str, mark: str = "", largest: float = 100.0) -> Cell:
    """What a cell says under the decimal mark of its column. Raises Refused with a sentence, and nothing else."""
    if len(text) > LONGEST_FIGURE:
        raise Refused(f"“{text[:30]}…” is no figure.", code="not_a_number")
    raw, plain = str(text).strip(), clean(_RAISED.sub("*", text))
    mark = "." if isinstance(text, Exact) else mark
    if plain.lower() in NOTHING_FOUND or re.fullmatch(r"\(?(?:<|below )\s*(?:lod|l\.o\.d\.?|dl|d\.l\.?|loq|mdl|det\w*|bdl|limit)\)?", plain.lower()):
        return Cell(raw, None)
    if _DATE.fullmatch(plain):
        raise Refused(f"“{plain[:20]}” is a date: the spreadsheet has turned a figure into one. Type the figure anew.", code="a_date")
    if plain.startswith("="):
        raise Refused(f"“{plain[:20]}” is a formula without a value. Open the table in its spreadsheet, save it there, and bring it in again.", code="formula_only")
    if plain.startswith("#"):
        raise Refused(f"“{plain[:20]}” is a failed formula of the spreadsheet.", code="failed_formula")
    if plain.startswith(">"):
        raise Refused(f"“{plain[:20]}” is only a least amount.", code="only_least")
    unit, plain = _without_unit(plain)
    return _read(raw, plain, mark, largest, unit)


def _without_unit(plain: str) -> tuple[str, str]:
    found = _UNIT.search(plain)
    if not found:
        return "", plain
    return "wt" if "%" in found[1] else "ppm", plain[: found.start()]


def _read(raw: str, plain: str, mark: str, largest: float, unit: str) -> Cell:
    remark = ""
    if marked := _MARKED.search(plain):
        plain, remark = plain[: marked.start()], "a footnote mark was set aside"
    if about := _ABOUT.match(plain):
        plain, remark = plain[about.end() :], "given as about"
    if found := _PLUS_MINUS.fullmatch(plain):
        return Cell(raw, number(found[1], mark, largest), sd=number(found[2], mark, largest), unit=unit, remark=remark)
    if found := _BRACKET.fullmatch(plain):
        return _with_bracket(raw, found, mark, largest, unit)
    is_below = plain.startswith("<")
    figure = plain[1:].strip() if is_below else re.sub(r"^\+", "", plain)
    is_negative = figure.startswith("-")
    if not re.fullmatch(_NUMBER, _GROUPED.sub("", figure.lstrip("-")), re.ASCII):
        raise Refused(f"“{raw[:40]}” is not a number.", code="not_a_number")
    value = number(figure.lstrip("-"), mark, largest)
    if is_negative:
        return _negative(raw, value, unit)
    return Cell(raw, value, is_below, unit=unit, remark=remark)


def _with_bracket(raw: str, found: re.Match, mark: str, largest: float, unit: str) -> Cell:
    """12.34(5) is 0.05 in the last digits (ISO/IEC Guide 98-3, 7.2.2); 12.3 (0.2) is the sd itself; 12.3 (5) may be a count."""
    value = number(found[1], mark, largest)
    if re.search(r"[.,]", found[3]):
        return Cell(raw, value, sd=number(found[3], mark, largest), unit=unit)
    if found[2] or value.as_tuple().exponent >= 0:
        return Cell(raw, value, unit=unit, remark="the figure in brackets was set aside")
    return Cell(raw, value, sd=Decimal(found[3]).scaleb(value.as_tuple().exponent), unit=unit)


def _negative(raw: str, value: Decimal, unit: str) -> Cell:
    """Slightly below zero is how an instrument prints 'nothing found'; far below is a mistake."""
    if value > Decimal("0.2") and unit != "ppm":
        raise Refused(f"{raw[:40]} is negative. An amount cannot be below zero.", code="negative")
    return Cell(raw, None, unit=unit, remark="measured below zero: counts as not found")


def read_typed(text: str, field: str) -> Cell:
    """A cell of an oxide in wt% that stands alone: as physics reads it, else with all the care of a table ('12.3 ± 0.2', 'n.n.').

    A figure that can be read two ways stays refused, since no column says which. The page's twin is readTyped in static/glass/cells.js;
    both are held to tests/reference/values/cells.json. Raises BadComposition naming the field.
    """
    try:
        value, limit = parse_number(text, field)
        return Cell(text, Decimal(str(value if limit is None else limit)), limit is not None)
    except BadComposition as error:
        if error.code not in ("not_a_number", "negative"):
            raise
    try:
        cell = read_cell(text, "", 100.0)
    except Refused as error:
        raise BadComposition(f"{field}: {error.message}", code=error.code, field=field) from None
    if cell.unit == "ppm":
        raise BadComposition(f"{field}: “{text[:40]}” is in ppm, not in wt%.", code="other_unit", field=field)
    if cell.sd is not None and cell.sd > 100:
        raise BadComposition(f"{field}: the ± of {text.strip()[:40]} is more than the whole.", code="too_large", field=field)
    return cell
