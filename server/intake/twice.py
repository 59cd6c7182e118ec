"""One metal in several columns: counted once, the oxide before the element whatever the order of the columns, and said where they disagree."""

from collections.abc import Mapping
from dataclasses import dataclass, replace

from server.errors import Refused
from server.glass.cells import read_cell
from server.intake.columns import Column
from server.physics.composition import INDEX, MOLAR_MASS_G_MOL, OXIDE_OF_ELEMENT, WEIGHTS
from server.physics.table import table

MASSES_AGREE_WITHIN = 0.006  # atomic weights as rounded by others (common practice, no source)
TELLING_WITHIN = 0.05  # coarser figures agree by their rounding alone (common practice, no source)
METHODS_AGREE_WITHIN = 0.10  # two methods on one glass; beyond it the row itself is cautioned (common practice, no source)
_PER_WT = {"wt": 1.0, "ppm": 1e-4, "ppb": 1e-7}


@dataclass(frozen=True)
class _Told:
    """What one cell says of its metal: wt% of the element, and half a unit of its last figure."""

    wt: float
    rounding: float

    def is_like(self, other: "_Told", apart: float = MASSES_AGREE_WITHIN) -> bool:
        return abs(self.wt - other.wt) <= (self.rounding + other.rounding) * 1.001 + apart * max(self.wt, other.wt)


def element_of(column: Column) -> str:
    """The element that an amount's column is about."""
    if column.role == "element":
        return column.of
    return next((e for e in OXIDE_OF_ELEMENT if column.of.startswith(e) and not column.of[len(e) : len(e) + 1].islower()), column.of)


def counted_once(columns: list[Column], cells: list[list[str]], corrections: Mapping) -> list[Column]:
    """Columns with every metal counted once.

    What wins: what the person said; wt% before mol%; an oxide before the element; all iron ('FeO total') before FeO or Fe2O3 alone; Fe2O3
    before FeO. FeO and Fe2O3 are two oxides and both count, unless they agree in every row, which makes them one iron written twice.
    A column that disagrees with the one that wins is left out too, is to be checked, and its rows are cautioned.
    """
    order = sorted((i for i, c in enumerate(columns) if c.is_analyte), key=lambda i: _rank(columns, corrections, i))
    taken: dict[str, list[int]] = {}
    for i in order:
        others = taken.setdefault(element_of(columns[i]), [])
        twins = [] if i in corrections else [k for k in others if _is_twin(columns, cells, i, k)]
        if twins:
            columns[i] = _left_out(columns, cells, i, others if columns[i].role == "element" else twins)
        else:
            others.append(i)
    return columns


def _rank(columns: list[Column], corrections: Mapping, i: int) -> tuple:
    column = columns[i]
    return i not in corrections, column.unit == "mol", column.role == "element", not column.is_total_iron, column.of == "FeO", i


def _told(column: Column, cell: str) -> _Told | None:
    """What a cell says; None where it says no amount, or one that cannot be compared (mol%)."""
    if column.unit not in _PER_WT:
        return None
    try:
        read = read_cell(cell, "", 1e6)
    except Refused:
        return None
    if read.value is None or read.is_below or not read.value:
        return None
    share = _PER_WT[column.unit] * _share(column)
    return _Told(float(read.value) * share, 0.5 * 10.0 ** read.value.as_tuple().exponent * share)


def _share(column: Column) -> float:
    """Mass of the element in a mass of what the column is about."""
    if column.role == "element":
        return 1.0
    element = element_of(column)
    atoms = table("oxides")["oxides"][column.of].get(element, 0)
    return atoms * WEIGHTS.get(element, 0.0) / MOLAR_MASS_G_MOL[INDEX[column.of]]


def _pairs(columns: list[Column], cells: list[list[str]], i: int, k: int) -> list[tuple[int, _Told, _Told]]:
    """(row, what i says, what k says) of the rows in which both say an amount."""
    both = ((row, _told(columns[i], a), _told(columns[k], b)) for row, (a, b) in enumerate(zip(cells[i], cells[k], strict=True)))
    return [(row, one, other) for row, one, other in both if one and other]


def _is_twin(columns: list[Column], cells: list[list[str]], i: int, k: int) -> bool:
    """True where two columns tell the same metal twice, and in one row; tables brought together from several papers fill either."""
    one, other = columns[i], columns[k]
    if one.of == other.of:
        return True
    pairs = _pairs(columns, cells, i, k)
    if "element" in (one.role, other.role) or one.is_total_iron or other.is_total_iron:
        return bool(pairs) or "mol" in (one.unit, other.unit)
    telling = [a for _row, a, b in pairs if a.rounding + b.rounding < TELLING_WITHIN * max(a.wt, b.wt)]
    return len(telling) > 1 and all(a.is_like(b) for _row, a, b in pairs)


def _left_out(columns: list[Column], cells: list[list[str]], i: int, twins: list[int]) -> Column:
    """Column i as left out for the columns that are counted, with the rows in which it says something else."""
    column, names = columns[i], " and ".join(f"“{columns[k].heading}”" for k in twins)
    metal, counted = element_of(column), "which is counted" if len(twins) == 1 else "which are counted"
    rows = {row for k in twins for row, _a, _b in _pairs(columns, cells, i, k)}
    bare = Column(column.heading, "ignore", is_twice=True, is_sure=bool(rows), why=f"the same {metal} as {names}, {counted}")
    others = {row: [told for k in twins if (told := _told(columns[k], cells[k][row]))] for row in rows}
    mine = {row: _told(column, cells[i][row]) for row in rows}
    is_part = column.role == "oxide" and not column.is_total_iron and any(columns[k].is_total_iron for k in twins)
    if is_part and not all(_agrees(mine[row], others[row]) for row in rows) and all(mine[row].wt <= others[row][0].wt + others[row][0].rounding + mine[row].rounding for row in rows):
        return replace(bare, why=f"a part of the iron that {names} gives in all")
    apart = {row for row in rows if not _agrees(mine[row], others[row])}
    if not apart:
        is_one_of_two = column.role == "oxide" and not column.is_total_iron and columns[twins[0]].of != column.of and not columns[twins[0]].is_total_iron
        return replace(bare, is_sure=bare.is_sure and not is_one_of_two)
    far = frozenset(row for row in apart if not _agrees(mine[row], others[row], METHODS_AGREE_WITHIN))
    why = f"{metal} again, but in {len(apart)} of {len(rows)} rows not as much as {names}, {counted}"
    return replace(bare, why=why, is_sure=False, apart=far, instead=twins[0])


def _agrees(one: _Told, others: list[_Told], apart: float = MASSES_AGREE_WITHIN) -> bool:
    """Whether a cell says the same as one of the others, or as all of them together."""
    whole = _Told(sum(o.wt for o in others), sum(o.rounding for o in others))
    return any(one.is_like(other, apart) for other in [whole, *others])
