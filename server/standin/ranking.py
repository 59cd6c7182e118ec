"""Rank the glasses of the other side by how alike they work; what cannot be compared stands apart with its reason."""

from dataclasses import dataclass

import numpy as np

from server.glass.catalog import Glass
from server.physics import alike
from server.physics.report import why
from server.physics.table import models

REFUSALS = frozenset({"unreadable", "weathered_surface", "no_silica", "total_refused", "weathered_layer", "no_viscosity_model", "no_sound_curve"})
EXPANSION = alike.CRITERIA.index("expansion")


@dataclass(frozen=True)
class Count:
    """One criterion of one glass: second less first, its half-widths, the verdict, the chance to lie inside the margin, and what would settle it."""

    criterion: dict
    margin: float
    difference: float
    u: float
    u95: float
    verdict: int
    chance: float

    @property
    def is_unsure(self) -> bool:
        return self.verdict == alike.UNSURE

    @property
    def is_within(self) -> bool:
        """True when the best guess lies inside the margin."""
        return abs(self.difference) <= self.margin

    @property
    def settling(self) -> dict:
        return alike.settling(self.criterion["key"], self.difference, self.margin)


@dataclass(frozen=True)
class Row:
    """One ranked glass with its counts and its expected miss in margins."""

    glass: Glass
    miss: float
    counts: list[Count]


@dataclass(frozen=True)
class Apart:
    """A glass that cannot be ranked, why, and the one count that may be known."""

    glass: Glass
    reason: str
    expansion: Count | None


@dataclass(frozen=True)
class Ranking:
    """Everything that one page shows, nearest first."""

    glass: Glass
    side: str
    margins: np.ndarray
    rows: list[Row]
    apart: list[Apart]


def rank(glass: Glass, side: str, others: list[Glass], margins: np.ndarray) -> Ranking:
    """The others by expected miss against the glass; margins is (criteria,)."""
    made = alike.compare(alike.working([glass.report]), alike.working([other.report for other in others]), margins)
    miss = alike.expected_miss(made, margins)
    known = np.isfinite(miss) & np.isfinite(made.u95).all(axis=0)
    order = [i for i in np.argsort(miss, kind="stable") if known[i]]
    rows = [Row(others[i], float(miss[i]), _counts(made, margins, i)) for i in order]
    apart = [_apart(others[i], _counts(made, margins, i)[EXPANSION]) for i in np.flatnonzero(~known)]
    return Ranking(glass, side, margins, rows, apart)


def _counts(made: alike.Comparison, margins: np.ndarray, i: int) -> list[Count]:
    figures = zip(margins, made.difference[:, i], made.u[:, i], made.u95[:, i], strict=True)
    criteria = alike.table("alike")["criteria"]
    return [Count(c, *map(float, x), int(v), float(p)) for c, x, v, p in zip(criteria, figures, made.verdict[:, i], made.chance[:, i], strict=True)]


def _apart(other: Glass, expansion: Count) -> Apart:
    return Apart(other, reason_apart(other), expansion if np.isfinite(expansion.u95) else None)


def reason_apart(glass: Glass) -> str:
    """Why a glass has no place in the order, in words; empty where it has all that is needed."""
    made = glass.report
    refusals = [n["text"] for n in made["notes"] if n["code"] in REFUSALS]
    if made["points"] is None:
        stopped = _stopped(made)
        return " ".join(refusals[:1] + ([f"{stopped}."] if stopped else []))
    if made["alpha"] is None:
        return "No expansion model may answer for this glass."
    return "" if np.isfinite(alike.working([made]).u95).all() else "Its working range has no counted ±."


def _stopped(made: dict) -> str:
    """The bound that stopped the viscosity model which may be carried furthest; empty where the analysis itself was refused."""
    if any(n["code"] == "no_viscosity_model" for n in made["notes"]):
        by_key = {model["key"]: model for model in models()}
        said = [v for v in made["verdicts"] if v["quantity"] == "viscosity" and by_key[v["model"]]["reach"]]
        return next((text for v in said if (text := why(v, by_key[v["model"]], made["wt"], made["mol"], False))), "")
    return ""
