"""The user's own glasses: analyses typed on a tablet or at the desk, kept as typed. This module alone writes them."""

import json
from typing import Annotated, Literal

import numpy as np
from pydantic import BaseModel, ConfigDict, Field, StringConstraints, ValidationError
from sqlalchemy import BigInteger, Text
from sqlmodel import Session, SQLModel, select
from sqlmodel import Field as Column

from server.errors import BadComposition, Missing, Refused
from server.glass.catalog import Glass
from server.physics.composition import Amount, amount, wt_pct_of
from server.physics.estimate import estimate
from server.physics.report import report
from server.store.once import already_stored, digest
from server.store.sequence import next_number

UUID = r"^[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}$"
Id = Annotated[str, StringConstraints(pattern=UUID)]
STRICT = ConfigDict(strict=True, extra="forbid", allow_inf_nan=False)
LATEST_MS = 32_503_680_000_000  # the year 3000


def _line(longest: int):
    """A line of text without control characters."""
    return Annotated[str, StringConstraints(max_length=longest, pattern=r"^[^\x00-\x1f\x7f]*$")]


class AmountIn(BaseModel):
    """One figure as typed."""

    model_config = STRICT

    name: _line(12)
    text: _line(24)
    unit: Literal["wt", "mol", "ppm"]


class GlassIn(BaseModel):
    """An analysis as typed, with where it comes from."""

    model_config = STRICT

    name: Annotated[str, StringConstraints(min_length=1, max_length=120, pattern=r"^[^\x00-\x1f\x7f]*[^\x00-\x20\x7f][^\x00-\x1f\x7f]*$")]
    family: _line(80) = ""
    period: _line(80) = ""
    region: _line(80) = ""
    source: _line(400) = ""
    note: Annotated[str, StringConstraints(max_length=2000, pattern=r"^[^\x00-\x08\x0b-\x1f\x7f]*$")] = ""
    surface: Literal["section", "surface", "weathered", "not stated"] = "not stated"
    replaces: Id | Literal[""] = ""
    amounts: Annotated[list[AmountIn], Field(min_length=1, max_length=60)]


class EntryIn(BaseModel):
    """The envelope of a glass that a tablet sends."""

    model_config = STRICT

    id: Id
    kind: Literal["glass.added"]
    subject: Id
    n: Annotated[int, Field(ge=0, le=0)]
    device: Id
    at_ms: Annotated[int, Field(ge=0, le=LATEST_MS)]
    body: GlassIn


class OwnGlass(SQLModel, table=True):
    """One stored analysis; `id` is the glass, `amounts` the figures as typed (JSON)."""

    __tablename__ = "own_glass"

    id: str = Column(primary_key=True, max_length=36)
    seq: int = Column(unique=True)
    at_ms: int = Column(sa_type=BigInteger)
    device: str = Column(max_length=36)
    name: str = Column(max_length=120, index=True)
    family: str = Column(max_length=80)
    period: str = Column(max_length=80)
    region: str = Column(max_length=80)
    source: str = Column(max_length=400)
    note: str = Column(max_length=2000)
    surface: str = Column(max_length=20)
    replaces: str = Column(max_length=36)
    amounts: str = Column(sa_type=Text)
    digest: str = Column(max_length=64)
    received_ms: int = Column(sa_type=BigInteger)


def _checked(raw_entry: dict) -> EntryIn:
    """The entry, typed. Raises Refused naming the place."""
    try:
        return EntryIn.model_validate(raw_entry)
    except ValidationError as error:
        first = error.errors()[0]
        place = ".".join(str(part) for part in first["loc"])
        raise Refused(f"{place}: {first['msg']}.", code="invalid_glass", field=place) from None


def amounts_of(typed: list[dict]) -> list[Amount]:
    """Checked amounts from figures as typed. Raises BadComposition."""
    return [amount(a["name"], a["text"], a["unit"]) for a in typed]


def accept(session: Session, raw_entry: dict, received_ms: int) -> str:
    """Store a glass once: 'stored' or 'same'. Raises Refused or Differs. The caller commits."""
    entry = _checked(raw_entry)
    seal = digest(entry)
    if already_stored(session, OwnGlass, entry.subject, seal):
        return "same"
    body = entry.body.model_dump()
    try:
        wt_pct_of(amounts_of(body["amounts"]))
    except BadComposition as error:
        raise Refused(error.message, code=error.code, field=error.details.get("field", "")) from error
    row = {
        **body,
        "amounts": json.dumps(body["amounts"], ensure_ascii=False),
        "id": entry.subject,
        "seq": next_number(session),
        "at_ms": entry.at_ms,
        "device": entry.device,
        "digest": seal,
        "received_ms": received_ms,
    }
    session.add(OwnGlass.model_validate(row))
    session.flush()
    return "stored"


def _glass(row: OwnGlass) -> Glass:
    typed = json.loads(row.amounts)
    wt = wt_pct_of(amounts_of(typed))
    weathered = np.array([row.surface == "weathered"])
    units = {"wt": "wt%", "mol": "mol%", "ppm": "ppm"}
    return Glass(
        key=f"own/{row.id}",
        name=row.name,
        family=row.family,
        period=row.period,
        region=row.region,
        kind="own analysis",
        count="",
        source=row.source,
        status="entered here",
        note=row.note,
        published={a["name"]: f"{a['text']} {units[a['unit']]}" for a in typed if a["text"].strip()},
        wt=wt,
        surface=row.surface,
        report=report(estimate(wt[None, :], weathered), 0),
    )


def all_glasses(session: Session) -> list[Glass]:
    """Own glasses, newest first, without those that a later one replaces."""
    rows = session.exec(select(OwnGlass).order_by(OwnGlass.seq.desc())).all()
    replaced = {row.replaces for row in rows}
    return [_glass(row) for row in rows if row.id not in replaced]


def find(session: Session, glass_id: str) -> Glass:
    """One own glass. Raises Missing."""
    row = session.get(OwnGlass, glass_id)
    if row is None:
        raise Missing("This glass has not reached the desk yet, or was never entered.", code="no_such_glass")
    return _glass(row)
