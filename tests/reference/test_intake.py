"""Published tables set as papers and laboratories set them must come in as published. Sources: the citation of each row of compositions.csv.

Freestone, Gorin-Rosen & Hughes (2000) La route du verre, 65-83, Table 2; Verita, Renier & Zecchin (2002) J. Cultural Heritage 3, 261-271;
and every other analysis of the catalogue that was read in its source. Element masses: periodictable 2.1.0.
"""

import csv
from pathlib import Path

import periodictable
import pytest

from server.errors import Refused
from server.glass.cells import read_cell
from server.intake.checks import wt_of
from server.intake.preview import Options, preview
from server.intake.reading import read_file, read_text
from server.physics.composition import INDEX, OXIDE_OF_ELEMENT, OXIDES
from tests.unit.intake.tables import workbook

FILE = Path(__file__).parents[2] / Path("server/glass/data/compositions.csv")
with FILE.open(encoding="utf-8") as file:
    ROWS = [row for row in csv.DictReader(file) if not row["status"].startswith("memory")]
LEVANT = [row for row in ROWS if row["id"].startswith("FRE-") and row["kind"] == "individual"]
VENICE = [row for row in ROWS if row["id"].startswith("VER-")]


def reported(rows: list[dict]) -> list[str]:
    return [name for name in OXIDES if any(row.get(name) for row in rows)]


def across_in_german(rows: list[dict]) -> str:
    """Samples side by side, decimal commas, low figures, '–' for a blank, the total below."""
    names = reported(rows)
    low = str.maketrans("0123456789", "₀₁₂₃₄₅₆₇₈₉")
    lines = [["", *(row["id"] for row in rows)], ["Periode", *(row["period"] for row in rows)]]
    lines += [[f"{name.translate(low)} (Gew.-%)", *(row[name].replace(".", ",") or "–" for row in rows)] for name in names]
    lines += [["Summe", *(row["total"].replace(".", ",") for row in rows)]]
    return "\n".join(";".join(line) for line in lines)


def down_with_units_below(rows: list[dict]) -> str:
    """A caption, tabs, total iron marked, a line of units, footnote marks, 'n.d.' for a blank, the literature in a column."""
    names = reported(rows)
    heads = [{"FeO": "FeO(T)", "Fe2O3": "Fe₂O₃ᵗ"}.get(name, name.upper() if name != "CoO" else name) for name in names]
    lines = [["Table 2. Analyses"], ["Anal. no", "Type", *heads, "Total", "Reference"], ["", "", *["wt %"] * len(names), "", ""]]
    lines += [[row["id"], row["family"], *(f"{row[name]}*" if row[name] else "n.d." for name in names), row["total"], row["source"]] for row in rows]
    return "\n".join("\t".join(line) for line in lines)


def as_workbook(rows: list[dict]) -> bytes:
    names = reported(rows)
    body = [[row["id"], *(float(row[name]) if row[name] else None for name in names), float(row["total"])] for row in rows]
    return workbook({"Read me": [["Analyses"]], "Data": [["Sample", *(f"{name} wt%" for name in names), "Σ"], *body]})


def brought_in(grid) -> dict:
    made = preview(grid, Options())
    return {line.row.label: line for line in made.lines}


@pytest.mark.parametrize("rows", [LEVANT, VENICE], ids=["Levant", "Venice"])
@pytest.mark.parametrize("layout", [across_in_german, down_with_units_below, as_workbook])
def test_a_published_table_in_a_messy_layout_comes_in_as_published(rows, layout):
    assert len(rows) >= 8
    text = layout(rows)
    found = brought_in(read_file(text) if isinstance(text, bytes) else read_text(text))
    for row in rows:
        wt = wt_of(found[row["id"]].row)
        assert {name: wt[INDEX[name]] for name in OXIDES} == pytest.approx({name: float(row.get(name) or 0) for name in OXIDES}, abs=1e-9), row["id"]
        assert "total_differs" not in {n.code for n in found[row["id"]].notes}


def test_every_analysis_that_was_read_comes_in_as_published():
    rows = [row for row in ROWS if sum(bool(row.get(name)) for name in OXIDES) >= 4]
    assert len(rows) > 60
    for start in range(0, len(rows), 50):
        part = rows[start : start + 50]
        found = brought_in(read_text(down_with_units_below(part)))
        for row in part:
            wt = wt_of(found[row["id"]].row)
            assert {n: wt[INDEX[n]] for n in OXIDES} == pytest.approx({n: float(row.get(n) or 0) for n in OXIDES}, abs=1e-9), row["id"]


@pytest.mark.parametrize(("heading", "scale"), [("{} ppm", 1e4), ("{} (wt%)", 1.0), ("{} [µg/g]", 1e4), ("{} mg/kg", 1e4), ("{} ppb", 1e7)])
@pytest.mark.parametrize("row", [LEVANT[0], VENICE[4]], ids=lambda row: row["id"])
def test_elements_come_in_as_the_published_oxides(row, heading, scale):
    """The published oxides turned into elements with periodictable's masses; 0.01 wt% covers abridged atomic weights and digits."""
    elements = {}
    for element, oxide in OXIDE_OF_ELEMENT.items():
        if row.get(oxide):
            formula = periodictable.formula(oxide)
            atom = periodictable.elements.symbol(element)
            elements[element] = float(row[oxide]) * formula.atoms[atom] * atom.mass / formula.mass
    text = "Sample;" + ";".join(heading.format(e) for e in elements) + "\nX;" + ";".join(f"{v * scale:.5f}" for v in elements.values())
    wt = wt_of(brought_in(read_text(text))["X"].row)
    for element in elements:
        oxide = OXIDE_OF_ELEMENT[element]
        assert wt[INDEX[oxide]] == pytest.approx(float(row[oxide]), abs=0.01), oxide


def test_the_concise_form_of_uncertainty_is_that_of_the_guide():
    """ISO/IEC Guide 98-3 (GUM) 7.2.2: 100,021 47(35) g means 100,021 47 g with u = 0,000 35 g."""
    cell = read_cell("100,02147(35)", ",", 1e6)
    assert (float(cell.value), float(cell.sd)) == (100.02147, 0.00035)
    with pytest.raises(Refused):
        read_cell("100,02147((35)", ",", 1e6)
