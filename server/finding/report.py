"""What stands in a report of a session or of all that fits a filter: methods, table, pictures, sources. Gathers; the sentences are in say.py."""

from dataclasses import dataclass

from sqlmodel import Session

from server.errors import Missing
from server.finding.evidence import own_or_catalogued
from server.finding.foreseen import Foreseen
from server.finding.likeness import Likeness, likeness, margin_of
from server.finding.said import TwoGroups
from server.finding.scatter import Control, reference_key
from server.finding.selection import Group
from server.glass import view


@dataclass(frozen=True)
class Source:
    """A glass of the report with where its analysis comes from; "" for one that the desk does not know."""

    label: str
    source: str


@dataclass(frozen=True)
class Report:
    """Everything that the page prints. likenesses: each glass or piece against the reference of the session."""

    groups: list[Group]
    likenesses: list[Likeness]
    controls: list[Control]
    foreseen: list[Foreseen]
    sources: list[Source]
    models: list[str]


def against_reference(groups: list[Group], sessions: dict[str, dict], wanted_session: str, lane: str, said: dict[TwoGroups, list[dict]], ended: dict[str, int], by: str) -> list[Likeness]:
    """Every group against the reference of the session that was asked for; empty without one."""
    entry = sessions.get(wanted_session)
    reference = next((group for group in groups if entry and group.key == reference_key(entry["body"])), None)
    if reference is None:
        return []
    return [likeness(group, reference, lane, margin_of(group, reference, lane, sessions, said, ended), by) for group in groups if group is not reference]


def sources_of(session: Session, groups: list[Group]) -> tuple[list[Source], list[str]]:
    """(where the analysis of each glass comes from, citations of the models that its estimate used), each once."""
    found, models = [], {}
    for group in groups:
        key = group.rows[-1].glass_key
        try:
            glass = own_or_catalogued(session, key) if key else None
        except Missing:
            glass = None
        if glass is None:
            found.append(Source(group.label, ""))
            continue
        memory = " (recalled, not read: for orientation only)" if glass.from_memory else ""
        found.append(Source(group.label, f"{glass.name}: {glass.source or 'own analysis'}{memory}"))
        if glass.report.get("verdicts"):
            models |= {row["key"]: f"{row['name']}: {row['citation']}" for row in view.verdict_rows(glass.report) if row["used"]}
    return found, sorted(models.values())
