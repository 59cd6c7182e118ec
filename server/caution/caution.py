"""The words of the cautions, and the entries that say that one was read. This module alone takes them in."""

import hashlib
import json
from functools import cache
from pathlib import Path
from typing import Annotated, Literal

from pydantic import StringConstraints, TypeAdapter
from sqlmodel import Session

from server.store import log
from server.store.log import Envelope, Strict, line

DATA = Path(__file__).with_name("data") / "cautions.json"


@cache
def texts() -> dict[str, dict]:
    """{key: {title, lines, last, wording}}; `wording` is a mark of the very words, so that new words are shown again."""
    data = json.loads(DATA.read_text(encoding="utf-8"))
    found = {}
    for key, one in data["cautions"].items():
        words = json.dumps([one, data["last"]], ensure_ascii=False, sort_keys=True)
        found[key] = {**one, "last": data["last"], "wording": hashlib.sha256(words.encode()).hexdigest()[:12]}
    return found


class ReadBody(Strict):
    """Which caution was read, in which words, on which page."""

    caution: line(20, 1)
    wording: Annotated[str, StringConstraints(pattern=r"^[0-9a-f]{12}$")]
    page: line(80)


class Read(Envelope):
    kind: Literal["caution.read"]
    body: ReadBody


KINDS = TypeAdapter(Read)


def accept(session: Session, raw_entry: dict, received_ms: int) -> str:
    """Store that a caution was read: 'stored' or 'same'. Raises Refused or Differs."""
    return log.accept(session, KINDS, raw_entry, received_ms)


def reads(session: Session) -> list[dict]:
    """Every reading, the last one first."""
    return log.entries(session, "caution")[::-1]
