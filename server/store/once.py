"""At most once: the same id with the same content is 'same', with other content it is refused loudly."""

import hashlib
import json
from json.encoder import encode_basestring_ascii as quoted

from pydantic import BaseModel
from sqlmodel import Session, SQLModel

from server.errors import Differs

_canonical = json.JSONEncoder(sort_keys=True, separators=(",", ":")).encode
as_text = json.JSONEncoder(sort_keys=True, separators=(",", ":"), ensure_ascii=False).encode

PLAIN = {"at_ms", "body", "device", "id", "kind", "n", "subject"}


def digest(entry: BaseModel) -> str:
    """SHA-256 over the typed, canonical form of an entry, so that 2 and 2.0 in a float field are one."""
    return seal(entry.model_dump(mode="json"))


def seal(told: dict) -> str:
    """The same over an entry that was typed and told as plain data already."""
    return hashlib.sha256(_canonical(told).encode()).hexdigest()


def text_and_seal(told: dict) -> tuple[str, str]:
    """(the body as it is stored, seal) of such an entry: one pass over the body where its text is plain ASCII, as nearly all are."""
    body = as_text(told["body"])
    if not body.isascii() or told.keys() != PLAIN:
        return body, seal(told)
    device, number, kind, subject = (quoted(told[name]) for name in ("device", "id", "kind", "subject"))
    whole = f'{{"at_ms":{told["at_ms"]},"body":{body},"device":{device},"id":{number},"kind":{kind},"n":{told["n"]},"subject":{subject}}}'
    return body, hashlib.sha256(whole.encode()).hexdigest()


def differs() -> Differs:
    """What to say of an id that holds other content."""
    return Differs("An entry with this id but other content is already stored; both are kept, neither is changed.")


def already_stored(session: Session, row_class: type[SQLModel], entry_id: str, entry_digest: str) -> bool:
    """True when this very entry is stored; raises Differs when its id holds other content."""
    row = session.get(row_class, entry_id)
    if row is None:
        return False
    if row.digest != entry_digest:
        raise differs()
    return True
