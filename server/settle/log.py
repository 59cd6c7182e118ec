"""Reads what was said differently. Never writes: a decision is recorded by the page like any other statement."""

from itertools import groupby

from sqlmodel import Session, func, select

from server.find import log as finds
from server.find.ledger import Finds, finds_from
from server.plan import log as plan
from server.plan.said import CONDITIONS, OF_A_RUN
from server.session.tested import state_of_tests
from server.settle.differences import Difference, of_finds, of_margins, of_session, of_trial
from server.store import log as bench
from server.trial import log as trials
from server.trial.entry import TrialEntry
from server.trial.timing import COUNTS, trial_from


def _of_times(session: Session) -> list[Difference]:
    """Of trials of which it was said more than once whether a time counts. Those under cover wait until their session is open."""
    several = select(TrialEntry.subject).where(TrialEntry.kind.in_(COUNTS)).group_by(TrialEntry.subject).having(func.count() > 1)
    rows = session.exec(select(TrialEntry).where(TrialEntry.subject.in_(several), TrialEntry.kind.in_(COUNTS)).order_by(TrialEntry.subject)).all()
    seen, found = plan.open_to_all(session), []
    for subject, own in groupby(rows, key=lambda row: row.subject):
        if not of_trial([bench.as_wire(row) for row in own], ""):
            continue
        entries = trials.entries_of(session, subject)
        trial = trials.shown(trial_from(entries), seen)
        if trial.status != "covered":
            found += of_trial(entries, trial.name)
    return found


def _of_sessions(session: Session) -> list[Difference]:
    """Of sessions of which more than one word was said about a dish or about torch and room."""
    kinds = (*OF_A_RUN, CONDITIONS)
    several = session.exec(select(bench.BenchEntry.subject).where(bench.BenchEntry.kind.in_(kinds)).group_by(bench.BenchEntry.subject).having(func.count() > 1)).all()
    if not several:
        return []
    heated = {(test["body"]["session"], run) for test in state_of_tests(session) if test["status"] == "kept" for run in test["runs"]}
    found = []
    for subject in sorted(several):
        entries = bench.entries(session, "plan", subject=subject)
        if any(entry["kind"] == "plan.made" for entry in entries):
            found += of_session(entries, {run for number, run in heated if number == subject})
    return found


def _of_margins(session: Session, known: Finds) -> list[Difference]:
    """Of margins; glasses are called as trials call them, pieces by their label."""
    entries = bench.entries(session, "finding")
    if not of_margins(entries, {}):
        return []
    names = {f"glass:{key}": name for key, name in trials.glasses(session)}
    return of_margins(entries, names | {f"piece:{piece.id}": piece.facts["label"] for piece in known.pieces})


def differences(session: Session) -> list[Difference]:
    """Everything that waits for a person: finds and pieces first, then times, sessions and margins."""
    entries = finds.entries(session)
    known = finds_from(entries)
    return of_finds(entries, known) + _of_times(session) + _of_sessions(session) + _of_margins(session, known)
