"""The user's own glasses: analyses typed on a tablet or at the desk, kept as typed. This module alone writes them."""

import json
from collections.abc import Sequence
from typing import Annotated, Literal

import numpy as np
from pydantic import BaseModel, ConfigDict, Field, StringConstraints, ValidationError, model_serializer
from sqlalchemy import BigInteger, Text
from sqlmodel import Session, SQLModel, select
from sqlmodel import Field as Column

from server.errors import BadComposition, Missing, Refused
from server.glass.catalog import Glass
from server.physics.analysis import default_sd
from server.physics.composition import INDEX, OXIDE_OF_ELEMENT, OXIDES, Amount, amount, wt_pct_from_ppm, wt_pct_of
from server.physics.estimate import estimate
from server.physics.report import report
from server.store.once import already_stored, digest
from server.store.sequence import next_number

UUID = r"^[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}$"
Id = Annotated[str, StringConstraints(pattern=UUID)]
STRICT = ConfigDict(strict=True, extra="forbid", allow_inf_nan=False)
Surface = Literal["section", "surface", "weathered", "not stated"]
Method = Literal["certified", "epma-icp", "xrf", "portable-xrf", "weathered-surface", "not stated"]
LATEST_MS = 32_503_680_000_000  # the year 3000


def _line(longest: int):
    """A line of text without control characters."""
    return Annotated[str, StringConstraints(max_length=longest, pattern=r"^[^\x00-\x1f\x7f]*$")]


def _name(longest: int):
    """A line that holds more than blanks."""
    return Annotated[str, StringConstraints(min_length=1, max_length=longest, pattern=r"^[^\x00-\x1f\x7f]*[^\x00-\x20\x7f][^\x00-\x1f\x7f]*$")]


class Typed(BaseModel):
    """A part of an entry. What a later version added is left out where it says nothing, so that the seal of an older entry stays the same."""

    model_config = STRICT

    @model_serializer(mode="wrap")
    def _without_silent_additions(self, write):
        silent = {"raw": "", "heading": "", "sd": None, "method": "not stated", "n": None, "made": None, "materials": [], "after": None}
        return {key: value for key, value in write(self).items() if key not in silent or value != silent[key]}


class AmountIn(Typed):
    """One figure as typed; from a table also the cell and its heading as they stood there, and one sd in the same unit."""

    name: _line(12)
    text: _line(24)
    unit: Literal["wt", "mol", "ppm"]
    raw: _line(80) = ""
    heading: _line(60) = ""
    sd: Annotated[float, Field(ge=0, le=1e6)] | None = None


class GlassPart(Typed):
    """So many grams of a glass: its key, without a number where it has none, and its name."""

    key: _line(120)
    name: _line(120)
    mass_g: Annotated[float, Field(ge=0, le=100_000)]


class CompoundPart(Typed):
    """So many grams of a compound (server/physics/data/compounds.json), of which the share `purity` is that compound."""

    compound: Annotated[str, StringConstraints(pattern=r"^[a-z0-9-]{1,40}$")]
    mass_g: Annotated[float, Field(ge=0, le=100_000)]
    purity: Annotated[float, Field(gt=0, le=1)]


class MaterialPart(Typed):
    """So many grams of a raw material, with its analysis as it was weighed: wt% of what stays."""

    name: _name(120)
    mass_g: Annotated[float, Field(ge=0, le=10_000_000)]
    wt: Annotated[dict[Literal[OXIDES], Annotated[float, Field(ge=0, le=150)]], Field(max_length=len(OXIDES))]


class After(Typed):
    """The glass that a replica copies."""

    key: _line(120)
    name: _line(120)


class MadeOf(Typed):
    """What a glass is made of. Its figures are reckoned from it, not measured."""

    glasses: Annotated[list[GlassPart], Field(max_length=10)]
    compounds: Annotated[list[CompoundPart], Field(max_length=20)]
    materials: Annotated[list[MaterialPart], Field(max_length=40)] = []
    after: After | None = None


class GlassIn(Typed):
    """An analysis as typed, with where it comes from."""

    name: _name(120)
    family: _line(80) = ""
    period: _line(80) = ""
    region: _line(80) = ""
    source: _line(400) = ""
    note: Annotated[str, StringConstraints(max_length=2000, pattern=r"^[^\x00-\x08\x0b-\x1f\x7f]*$")] = ""
    surface: Surface = "not stated"
    replaces: Id | Literal[""] = ""
    method: Method = "not stated"
    n: Annotated[int, Field(ge=1, le=100_000)] | None = None
    made: MadeOf | None = None
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
    method: str = Column(default="not stated", max_length=24, sa_column_kwargs={"server_default": "not stated"})
    n: int | None = None
    entry: str | None = Column(default=None, max_length=36)
    made: str | None = Column(default=None, sa_type=Text)
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
    """Store a glass once: 'stored' or 'same'. Raises Refused or Differs. The caller commits.

    A glass has one entry, so the same glass under another entry number is the same: those taken in before the number was kept are handed on with their own.
    """
    entry = _checked(raw_entry)
    seal = digest(entry)
    row = session.get(OwnGlass, entry.subject)
    if row is not None and {**as_wire(row), "id": entry.id} == entry.model_dump():
        return "same"
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
        "made": json.dumps(body["made"], ensure_ascii=False) if body.get("made") else None,
        "id": entry.subject,
        "entry": entry.id,
        "seq": next_number(session),
        "at_ms": entry.at_ms,
        "device": entry.device,
        "digest": seal,
        "received_ms": received_ms,
    }
    session.add(OwnGlass.model_validate(row))
    session.flush()
    return "stored"


def as_wire(row: OwnGlass) -> dict:
    """The entry that a stored glass came in; its id is the glass's own where the entry's was not kept."""
    plain = {name: getattr(row, name) for name in GlassIn.model_fields if name not in ("amounts", "made")}
    body = GlassIn.model_validate({**plain, "amounts": json.loads(row.amounts), "made": json.loads(row.made) if row.made else None})
    return {"id": row.entry or row.id, "kind": "glass.added", "subject": row.id, "n": 0, "device": row.device, "at_ms": row.at_ms, "body": body.model_dump()}


def entries(session: Session) -> list[dict]:
    """Every own glass as on the wire, those replaced too, in the order in which they were made."""
    return sorted((as_wire(row) for row in session.exec(select(OwnGlass))), key=lambda e: (e["at_ms"], e["id"]))


def _glasses(rows: Sequence[OwnGlass]) -> list[Glass]:
    """All estimated at once."""
    if not rows:
        return []
    wt = np.array([_wt(row) for row in rows])
    weathered = np.array(["weathered" in (row.surface, row.method.removesuffix("-surface")) for row in rows])
    sd = np.array([_sd(row, wt[i]) for i, row in enumerate(rows)])
    made = estimate(wt, weathered, sd)
    return [_glass(row, wt[i], report(made, i)) for i, row in enumerate(rows)]


def _glass(row: OwnGlass, wt: np.ndarray, made: dict) -> Glass:
    typed = json.loads(row.amounts)
    units = {"wt": "wt%", "mol": "mol%", "ppm": "ppm"}
    return Glass(
        key=f"own/{row.id}",
        name=row.name,
        family=row.family,
        period=row.period,
        region=row.region,
        kind="own analysis",
        count="" if row.n is None else str(row.n),
        source=row.source,
        status="entered here",
        note=row.note,
        published={a["name"]: f"{a['text']} {units[a['unit']]}" for a in typed if a["text"].strip()},
        wt=wt,
        surface=row.surface,
        report=made,
        originals={a["name"]: _as_it_stood(a) for a in typed if a.get("raw")},
        method=row.method,
        made=json.loads(row.made) if row.made else None,
    )


def _wt(row: OwnGlass) -> np.ndarray:
    """wt% by OXIDES, shape (oxides,)."""
    return wt_pct_of(amounts_of(json.loads(row.amounts)))


def _sd(row: OwnGlass, wt: np.ndarray) -> np.ndarray:
    """One standard deviation in wt%, shape (oxides,): what the method is usually worth, or more where more was given in wt% or ppm.

    The scatter of repeats tells nothing of what they all have wrong, so it never narrows.
    """
    sd = default_sd(wt, row.method)
    for typed in json.loads(row.amounts):
        if typed.get("sd") is not None and typed["unit"] == "wt":
            place, given = INDEX[typed["name"]], typed["sd"]
            sd[place] = max(sd[place], given)
        elif typed.get("sd") is not None and typed["unit"] == "ppm":
            place, given = INDEX[OXIDE_OF_ELEMENT[typed["name"]]], wt_pct_from_ppm(typed["name"], typed["sd"])
            sd[place] = max(sd[place], given)
    return sd


def _as_it_stood(typed: dict) -> str:
    """The cell of the table under its heading, with the sd where that stood elsewhere."""
    spread = f", sd {typed['sd']:.3g}" if "sd" in typed and "±" not in typed["raw"] else ""
    return f"{typed['heading']}: {typed['raw']}{spread}" if typed.get("heading") else f"{typed['raw']}{spread}"


def names(session: Session) -> frozenset[str]:
    """Names of all own glasses in small letters: whether a sample is here already."""
    return frozenset(name.lower() for name in session.exec(select(OwnGlass.name)).all())


def all_glasses(session: Session) -> list[Glass]:
    """Own glasses, newest first, without those that a later one replaces."""
    rows = session.exec(select(OwnGlass).order_by(OwnGlass.seq.desc())).all()
    replaced = {row.replaces for row in rows}
    return _glasses([row for row in rows if row.id not in replaced])


def find(session: Session, glass_id: str) -> Glass:
    """One own glass. Raises Missing."""
    row = session.get(OwnGlass, glass_id)
    if row is None:
        raise Missing("This glass has not reached the desk yet, or was never entered.", code="no_such_glass")
    return _glasses([row])[0]
