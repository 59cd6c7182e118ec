"""The page's evaluator against the server's, in real Chromium, on the same model data: within 1e-9, refusals included."""

import json
import math

import numpy as np
import pytest

from server.errors import BadComposition
from server.physics import analysis
from server.physics.bounds import Glasses
from server.physics.composition import INDEX, OXIDES, amount, mol_pct_from_wt_pct, parse_number, wt_pct_of
from server.physics.report import estimate_one
from server.physics.table import models, table
from server.web.page import version
from tests import glasses as g

SEED = 20261125
TOLERANCE = 1e-9
RUN = """async ({base, rows}) => {
  const {Estimator} = await import(`${base}/glass/estimate.js`);
  const data = await (await fetch('/glass/models.json')).json();
  const tool = new Estimator(data);
  return rows.map(([wt, weathered, sd, method]) => {
    const readable = Object.values(wt).every((x) => Number.isFinite(x) && x >= 0);
    return tool.estimate(wt, weathered, method && readable ? tool.defaultSd(wt, method) : sd);
  });
}"""
READ = """async ({base, cases}) => {
  const {Composition, parseNumber} = await import(`${base}/glass/composition.js`);
  const data = await (await fetch('/glass/models.json')).json();
  const composition = new Composition(data.oxides);
  const attempt = (work) => { try { return work(); } catch (error) { return {code: error.code, field: error.field, message: error.message}; } };
  return {
    numbers: cases.numbers.map((text) => attempt(() => parseNumber(text, "Na2O"))),
    analyses: cases.analyses.map((list) => attempt(() => composition.wtOf(list.map(([name, text, unit]) => composition.amount(name, text, unit))))),
  };
}"""


def random_glasses(rng: np.random.Generator) -> list[np.ndarray]:
    """Glass-like, magma-like, alkali-rich, lead and boron rows, and rows of any oxides at all."""
    centres = [g.FLOAT, g.NATRON, g.WOOD_ASH, g.SRM_710, g.LEAD_22, g.BOROSILICATE, g.SOFT_BEAD, g.row(SiO2=74, Al2O3=13, Na2O=4, K2O=4.5, CaO=1.5, FeO=2)]
    rows = []
    for centre in centres:
        for _ in range(30):
            made = centre * rng.lognormal(0, 0.35, len(OXIDES)) + rng.dirichlet(np.full(len(OXIDES), 0.2)) * rng.choice([0, 2, 8])
            rows.append(made * rng.choice([100, 98, 102, 97, 103.5, 93, 88]) / made.sum())
    return rows + [100 * row for row in rng.dirichlet(np.full(len(OXIDES), 0.1), 80)]


def edge_glasses() -> list[np.ndarray]:
    """On every limit of every model and family, to either side of it, and the impossible."""
    rows = [g.row(), g.row(SiO2=100), g.row(Na2O=100), g.row(SiO2=50, Na2O=float(50)), g.row(SiO2=1e-300, CaO=51, Na2O=49)]
    bounds = [b for m in models() for b in m["bounds"] + (m["reach"] or [])] + [b for f in table("families")["families"] for b in f["when"]]
    base = g.row(SiO2=72, Na2O=14, CaO=8, MgO=3, Al2O3=2, K2O=1)
    for bound in bounds:
        for limit in (bound.get("min"), bound.get("max")):
            for step in (-1e-4, 0, 1e-4):
                if limit is not None and 0 <= limit + step < 100:
                    rest = base.copy()
                    rest[[INDEX[name] for name in bound["of"]]] = 0
                    made = rest * (100 - limit - step) / rest.sum()
                    made[INDEX[bound["of"][0]]] = limit + step
                    rows.append(made)
    return rows


def compare(theirs, ours, path: str = "") -> list[str]:
    """Every place where the two differ by more than the tolerance."""
    if isinstance(ours, dict):
        if set(theirs) != set(ours):
            return [f"{path}: keys {sorted(set(theirs) ^ set(ours))}"]
        return [x for key in ours for x in compare(theirs[key], ours[key], f"{path}.{key}")]
    if isinstance(ours, list):
        if theirs is None or len(theirs) != len(ours):
            return [f"{path}: {theirs} against {ours}"]
        return [x for i, pair in enumerate(zip(theirs, ours, strict=True)) for x in compare(*pair, f"{path}[{i}]")]
    if isinstance(ours, bool) or not isinstance(ours, int | float):
        return [] if theirs == ours else [f"{path}: {theirs!r} against {ours!r}"]
    same = isinstance(theirs, int | float) and math.isclose(theirs, ours, rel_tol=TOLERANCE, abs_tol=1e-9)
    return [] if same else [f"{path}: {theirs!r} against {ours!r}"]


@pytest.fixture
def analysis_page(page, live_server):
    page.goto(f"{live_server.url}/glass/new")
    return page


def test_both_evaluators_agree(analysis_page):
    rows = random_glasses(np.random.default_rng(SEED)) + edge_glasses()
    assert len(rows) >= 900
    weathered = [i % 50 == 0 for i in range(len(rows))]
    methods = [None, *analysis.methods()]
    method = [methods[i % len(methods)] for i in range(len(rows))]
    asked = [[{n: float(x) for n, x in zip(OXIDES, row, strict=True)}, w, None, m] for row, w, m in zip(rows, weathered, method, strict=True)]
    theirs = analysis_page.evaluate(RUN, {"base": f"/static/{version()}", "rows": asked})
    sd = [None if m is None else analysis.default_sd(row, m) for row, m in zip(rows, method, strict=True)]
    ours = [estimate_one(row, w, s) for row, w, s in zip(rows, weathered, sd, strict=True)]
    for report in (*theirs, *ours):
        for note in report["notes"]:
            note.pop("text")
    states = [report["status"] for report in ours]
    assert min(states.count(s) for s in ("ok", "extrapolated", "refused")) >= 50
    wrong = [(i, line) for i, pair in enumerate(zip(theirs, json.loads(json.dumps(ours)), strict=True)) for line in compare(*pair)]
    assert not wrong, wrong[:10]


NUMBERS = ["66.4", "66,4", " 1 ", "", "bd", "n.d.", "<0.05", "< 0,05", "-1", "−2", "<-1", "abc", "1,250", "0,045", "1e-2", "1e400", ".5", "1.", "1.2.3", "inf", "nan", "tr", "–", "12-14", "1_0", "٣"]
ANALYSES = [
    [["SiO2", "72.8", "wt"], ["Na2O", "13,7", "wt"], ["CaO", "8.8", "wt"], ["Co", "120", "ppm"]],
    [["SiO2", "70", "mol"], ["Na2O", "16", "mol"], ["CaO", "12", "mol"], ["P2O5", "<0.1", "mol"]],
    [["SiO2", "70", "mol"], ["Co", "50", "ppm"]],
    [["SiO2", "70", "mol"], ["Co", "bd", "ppm"]],
    [["SiO2", "70", "wt"], ["SiO2", "1", "wt"]],
    [["Si", "70", "wt"]],
    [["toString", "1", "wt"]],
    [["SiO2", "100.5", "wt"]],
    [["Pb", "999999", "ppm"], ["SiO2", "1", "wt"]],
    [],
]


def our_reading(work):
    try:
        return work()
    except BadComposition as error:
        return {"code": error.code, "field": error.details["field"], "message": error.message}


def test_both_read_figures_alike(analysis_page):
    cases = {"numbers": NUMBERS, "analyses": ANALYSES}
    theirs = analysis_page.evaluate(READ, {"base": f"/static/{version()}", "cases": cases})
    ours = {
        "numbers": [our_reading(lambda t=t: dict(zip(("value", "limit"), parse_number(t, "Na2O"), strict=True))) for t in NUMBERS],
        "analyses": [our_reading(lambda a=a: dict(zip(OXIDES, map(float, wt_pct_of([amount(*x) for x in a])), strict=True))) for a in ANALYSES],
    }
    assert compare(theirs, ours) == []


def test_curve_and_bounds_helpers_see_the_same_glass():
    """The rows that the comparison uses are what it says: some lie exactly on a limit."""
    rows = np.array(edge_glasses()[5:])
    glasses = Glasses(rows, mol_pct_from_wt_pct(rows))
    on_limit = [np.isclose(glasses.of(b["of"]), b["max"], atol=1e-12).any() for m in models() for b in m["bounds"] if b["unit"] == "wt" and "max" in b]
    assert all(on_limit)
