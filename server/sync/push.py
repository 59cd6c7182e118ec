"""A batch of entries in, a verdict for each. One bad entry never stops its neighbours."""

from collections.abc import Callable
from typing import Literal

from pydantic import BaseModel, ConfigDict, Field
from sqlmodel import Session

from server.caution import caution
from server.errors import Differs, Failure, Refused
from server.find import log as find_log
from server.finding import log as finding_log
from server.glass import own
from server.measure import log as measure_log
from server.plan import log as plan_log
from server.trial import log as trial_log

ACCEPT: dict[str, Callable[[Session, dict, int], str]] = {
    "caution": caution.accept,
    "find": find_log.accept,
    "finding": finding_log.accept,
    "glass": own.accept,
    "measure": measure_log.accept,
    "piece": find_log.accept,
    "plan": plan_log.accept,
    "trial": trial_log.accept,
}
MAX_ENTRIES = 500


class Batch(BaseModel):
    """What a tablet sends; each entry is judged alone, further on."""

    model_config = ConfigDict(strict=True, extra="forbid")

    entries: list[dict] = Field(max_length=MAX_ENTRIES)


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


def accept_one(session: Session, raw_entry: dict, received_ms: int) -> str:
    """Hand an entry to its domain. Raises Refused for a kind that nobody here knows."""
    kind = raw_entry.get("kind")
    accept = ACCEPT.get(kind.split(".")[0]) if isinstance(kind, str) else None
    if accept is None:
        raise Refused("This kind of entry is not known here; a newer Isokom on the desk may know it.", code="unknown_kind")
    with session.begin_nested():
        return accept(session, raw_entry, received_ms)


def judge(session: Session, raw_entry: dict, received_ms: int) -> Verdict:
    """The verdict on one entry. Only Refused and Differs are verdicts; anything else fails the whole request."""
    try:
        return Verdict(id=safe_id(raw_entry), verdict=accept_one(session, raw_entry, received_ms))
    except (Refused, Differs) as error:
        return refusal(raw_entry, error)


def refusal(raw_entry: dict, error: Failure) -> Verdict:
    """The verdict that says no, and why."""
    return Verdict(id=safe_id(raw_entry), verdict="refused", code=error.code, message=error.message)


def push(session: Session, batch: Batch, received_ms: int) -> list[Verdict]:
    """Verdicts in the order of the entries. The caller commits."""
    return [judge(session, raw_entry, received_ms) for raw_entry in batch.entries]
