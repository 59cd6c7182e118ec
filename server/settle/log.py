"""Reads what was said differently. Never writes: a decision is recorded by the page like any other statement."""

from itertools import groupby

from sqlmodel import Session, func, select

from server.find import log as finds
from server.find.ledger import finds_from
from server.plan import log as plan
from server.settle.differences import Difference, of_finds, of_trial
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


def differences(session: Session) -> list[Difference]:
    """Everything that waits for a person: finds and pieces first, then times."""
    entries = finds.entries(session)
    return of_finds(entries, finds_from(entries)) + _of_times(session)
