"""The published analyses: a read-only catalogue with citations, each with its estimate, made once at start."""

import csv
import re
import unicodedata
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path

import numpy as np

from server.errors import Missing
from server.physics.analysis import default_sd
from server.physics.composition import OXIDES
from server.physics.estimate import estimate
from server.physics.report import report

FILE = Path(__file__).with_name("data") / "compositions.csv"
MEMORY = "memory"


@dataclass(frozen=True)
class Glass:
    """One analysis with where it comes from and what the estimate says of it."""

    key: str
    name: str
    family: str
    period: str
    region: str
    kind: str
    count: str
    source: str
    status: str
    note: str
    published: dict[str, str]
    wt: np.ndarray
    surface: str
    report: dict
    originals: dict[str, str] = field(default_factory=dict)  # the cells of the table that an own glass came from
    method: str = ""  # of analysis, a key of server/physics/data/analysis.json
    made: dict | None = None  # what an own glass was made of (own.MadeOf)

    @property
    def from_memory(self) -> bool:
        """True where the figures were recalled, not read: good for orientation only."""
        return self.status.startswith(MEMORY)

    @property
    def link(self) -> str:
        return f"/glass/{self.key}"

    @property
    def words(self) -> str:
        """What a search looks through."""
        return plain(" ".join((self.name, self.family, self.period, self.region, self.key)))


def _key(row: dict) -> str:
    return re.sub(r"[^a-z0-9]+", "-", row["id"].lower()).strip("-")


def _rank(row: dict) -> tuple[bool, bool]:
    """Read in a source before recalled from memory; finds before reference glasses. Otherwise the file's order."""
    return row["status"].startswith(MEMORY), row["kind"] == "certified"


def _wt(row: dict) -> np.ndarray:
    """wt% by OXIDES; blank is not reported and counts as 0."""
    return np.array([float(row.get(name) or 0) for name in OXIDES])


def _surface(row: dict) -> str:
    return "weathered" if "weathered" in row["family"] else "not stated"


def _method(row: dict) -> str:
    """The method that the ± of the analysis is taken for; the sources seldom print sd, and analyse by EPMA, SEM-EDS or ICP."""
    return "certified" if row["kind"] == "certified" else "epma-icp"


@cache
def glasses() -> dict[str, Glass]:
    """Every catalogue glass by key: what was read before what was recalled."""
    with FILE.open(encoding="utf-8") as file:
        rows = sorted(csv.DictReader(file), key=_rank)
    wt = np.array([_wt(row) for row in rows])
    weathered = np.array([_surface(row) == "weathered" for row in rows])
    sd = np.array([default_sd(wt[i], _method(row)) for i, row in enumerate(rows)])
    estimates = estimate(wt, weathered, sd)
    return {_key(row): _glass(row, wt[i], report(estimates, i)) for i, row in enumerate(rows)}


def _glass(row: dict, wt: np.ndarray, made: dict) -> Glass:
    return Glass(
        key=_key(row),
        name=row["name"],
        family=row["family"],
        period=row["period"],
        region=row["region"],
        kind=row["kind"],
        count=row["n"],
        source=row["source"],
        status=row["status"],
        note=row["notes"],
        published={name: row[name] for name in OXIDES if row.get(name)},
        wt=wt,
        surface=_surface(row),
        report=made,
        method=_method(row),
    )


def find(key: str) -> Glass:
    """The catalogue glass of a key. Raises Missing."""
    try:
        return glasses()[key]
    except KeyError:
        raise Missing(f"There is no glass called {key[:60]} in the catalogue.", code="no_such_glass") from None


def plain(text: str) -> str:
    """Small letters without accents: how a search reads text. The same rule as static/web/search.js."""
    return "".join(c for c in unicodedata.normalize("NFD", text) if not unicodedata.category(c).startswith("M")).lower()


def matches(words: str, query: str) -> bool:
    """True when every word of the query stands somewhere in the glass's words, accents and capitals aside."""
    return all(part in words for part in plain(query).split())


def search(query: str) -> list[Glass]:
    """Catalogue glasses whose name, family, period or region hold every word of the query."""
    return [glass for glass in glasses().values() if matches(glass.words, query)]
