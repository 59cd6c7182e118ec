"""A batch of entries in, a verdict for each. One bad entry never stops its neighbours."""

from typing import Literal

from pydantic import BaseModel, ConfigDict, Field, TypeAdapter
from sqlmodel import Session

from server.caution.caution import KINDS as CAUTION
from server.device.entry import KINDS as DEVICE
from server.errors import Differs, Failure, Refused
from server.find.entry import EntryIn as FIND
from server.finding.entry import KINDS as FINDING
from server.glass import own
from server.make.entry import KINDS as FIRING
from server.measure.entry import KINDS as MEASURE
from server.plan.entry import KINDS as PLAN
from server.store import log
from server.store.log import BenchEntry, Ready, Stored
from server.sync.feed import Mark
from server.trial.entry import EntryIn as TRIAL
from server.trial.entry import TrialEntry

# What each word before the point is checked against, and the table it goes to. An own glass is no entry of a log: it has a door of its own.
KINDS: dict[str, tuple[TypeAdapter, type[Stored]]] = {
    "caution": (CAUTION, BenchEntry),
    "device": (DEVICE, BenchEntry),
    "find": (FIND, BenchEntry),
    "finding": (FINDING, BenchEntry),
    "firing": (FIRING, BenchEntry),
    "measure": (MEASURE, BenchEntry),
    "piece": (FIND, BenchEntry),
    "plan": (PLAN, BenchEntry),
    "trial": (TRIAL, TrialEntry),
}
MAX_ENTRIES = 500


class Batch(BaseModel):
    """What a tablet or another desk sends; each entry is judged alone, further on. `after`: the place at which the sender last saw this book."""

    model_config = ConfigDict(strict=True, extra="forbid")

    entries: list[dict] = Field(max_length=MAX_ENTRIES)
    after: Mark | None = None


class Verdict(BaseModel):
    """What became of one entry; `code` and `message` say why it was refused."""

    id: str
    verdict: Literal["stored", "same", "refused"]
    code: str = ""
    message: str = ""


def safe_id(raw_entry: dict) -> str:
    """The entry's id when it can be one, else nothing: what is not text is not echoed."""
    found = raw_entry.get("id")
    return found if isinstance(found, str) and len(found) <= 64 and found.isascii() and found.isprintable() else ""


def _word(raw_entry: dict) -> str:
    """What stands before the point of its kind."""
    kind = raw_entry.get("kind")
    return kind.split(".")[0] if isinstance(kind, str) else ""


def _ready(raw_entry: dict) -> Ready:
    """The entry, checked by its domain. Raises Refused, also for a kind that nobody here knows."""
    if _word(raw_entry) not in KINDS:
        raise Refused("This kind of entry is not known here; a newer Isokom on the desk may know it.", code="unknown_kind")
    kinds, table = KINDS[_word(raw_entry)]
    return log.ready(kinds, raw_entry, table)


def refusal(raw_entry: dict, error: Failure) -> Verdict:
    """The verdict that says no, and why."""
    return Verdict(id=safe_id(raw_entry), verdict="refused", code=error.code, message=error.message)


def _glass(session: Session, raw_entry: dict, received_ms: int) -> Verdict:
    try:
        with session.begin_nested():
            return Verdict(id=safe_id(raw_entry), verdict=own.accept(session, raw_entry, received_ms))
    except (Refused, Differs) as error:
        return refusal(raw_entry, error)


class _Batch:
    """Verdicts on a batch. Entries are gathered and stored together; the numbers of arrival go by their order."""

    def __init__(self, session: Session, entries: list[dict], received_ms: int):
        self.session, self.entries, self.received_ms = session, entries, received_ms
        self.verdicts: list[Verdict | None] = [None] * len(entries)
        self.waiting: list[tuple[int, Ready]] = []

    def take(self, place: int) -> None:
        """Look at one entry. Only Refused and Differs are verdicts; anything else fails the whole request."""
        raw_entry = self.entries[place]
        if _word(raw_entry) == "glass":
            self.store()
            self.verdicts[place] = _glass(self.session, raw_entry, self.received_ms)
            return
        try:
            self.waiting.append((place, _ready(raw_entry)))
        except Refused as error:
            self.verdicts[place] = refusal(raw_entry, error)

    def store(self) -> None:
        """Store what was gathered."""
        told = log.store(self.session, [one for _place, one in self.waiting], self.received_ms)
        for (place, one), word in zip(self.waiting, told, strict=True):
            raw_entry = self.entries[place]
            self.verdicts[place] = refusal(raw_entry, word) if isinstance(word, Differs) else Verdict(id=one.row["id"], verdict=word)
        self.waiting = []


def push(session: Session, batch: Batch, received_ms: int) -> list[Verdict]:
    """Verdicts in the order of the entries. The caller commits."""
    batch_of = _Batch(session, batch.entries, received_ms)
    for place in range(len(batch.entries)):
        batch_of.take(place)
    batch_of.store()
    return batch_of.verdicts
