"""Wire and row classes of a trial's entries. Rows are built only through model_validate from a validated wire entry."""

from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field, StringConstraints, TypeAdapter, model_serializer, model_validator
from sqlalchemy import BigInteger, Column, Index, Text
from sqlmodel import Field as ColumnField
from sqlmodel import SQLModel

MAX_EXACT_INT = 2**53 - 1
# pydantic's own pattern engine: "$" is the very end there, never before a last line feed.
UUID = r"^[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}$"
UUID7 = r"^[0-9a-f]{8}-[0-9a-f]{4}-7[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}$"
NO_CONTROLS = r"^[^\x00-\x1f\x7f-\x9f]*$"

Id = Annotated[str, StringConstraints(pattern=UUID)]
Id7 = Annotated[str, StringConstraints(pattern=UUID7)]
Line20 = Annotated[str, StringConstraints(max_length=20, pattern=NO_CONTROLS)]
Line80 = Annotated[str, StringConstraints(max_length=80, pattern=NO_CONTROLS)]
Line120 = Annotated[str, StringConstraints(max_length=120, pattern=NO_CONTROLS)]
Line200 = Annotated[str, StringConstraints(max_length=200, pattern=NO_CONTROLS)]
Line500 = Annotated[str, StringConstraints(max_length=500, pattern=NO_CONTROLS)]
Text2000 = Annotated[str, StringConstraints(min_length=1, max_length=2000, pattern=NO_CONTROLS)]
EpochMs = Annotated[int, Field(ge=0, le=MAX_EXACT_INT)]


class Strict(BaseModel):
    """No type is guessed, no field is passed over, no infinity or NaN."""

    model_config = ConfigDict(strict=True, extra="forbid", allow_inf_nan=False, frozen=True)


class Stamp(Strict):
    """When a press was made, by both clocks of one page load."""

    stage: Literal["sagged", "round", "flame_out", "glow_gone"]
    wall_ms: float = Field(ge=0, le=MAX_EXACT_INT)
    mono_ms: float = Field(ge=0, le=MAX_EXACT_INT)
    page: Id
    was_hidden: bool


class StartStamp(Stamp):
    """The press into the flame."""

    stage: Literal["flame_in"]


class KilnStamp(Stamp):
    """The press as the glass leaves the kiln; the way to the flame is timed from it."""

    stage: Literal["kiln_out"]


class StartedBody(Strict):
    """What is heated and how, with the press that started the clock; in a session also its run, and the code on the dish.

    What a later version added is left out where it says nothing, so that the seal of an older entry stays the same.
    """

    glass_key: Line120 | None
    glass_name: Line120
    piece: Annotated[str, StringConstraints(min_length=1, max_length=80, pattern=NO_CONTROLS)] | None
    consent: bool | None
    keeper: Line120 | None
    mass_g: float = Field(gt=0, le=1000)
    preheat_c: float = Field(ge=-50, le=1500)
    torch: Line500
    operator: Line80 | None
    press: StartStamp
    piece_id: Id | None = None
    session: Id | None = None
    run: Annotated[int, Field(ge=0, le=999)] | None = None
    code: Line20 = ""
    out_of_kiln: KilnStamp | None = None
    checked: list[Literal["weighed", "kiln"]] = Field(default=[], max_length=2)

    @model_serializer(mode="wrap")
    def _without_silent_additions(self, write):
        silent = {"piece_id": None, "session": None, "run": None, "code": "", "out_of_kiln": None, "checked": []}
        return {key: value for key, value in write(self).items() if key not in silent or value != silent[key]}

    @model_validator(mode="after")
    def _is_named_and_agreed(self) -> "StartedBody":
        """A piece of a find is heated only with its keeper's agreement; a trial is of something that has a name."""
        if self.piece is not None and self.consent is not True:
            raise ValueError("a piece of a find is heated only when its keeper has agreed")
        if not (self.glass_name if self.piece is None else self.piece).strip():
            raise ValueError("what was heated has no name")
        return self


class CorrectedBody(Strict):
    """A press that came early or late: how many ms to add to it, and why. The press itself stays as it was made."""

    entry: Id7
    shift_ms: float = Field(ge=-60_000, le=60_000)
    reason: Literal["late", "early", "slip", "other"]
    text: Line200 = ""


class TakenBackBody(Strict):
    """Names the press that does not count."""

    entry: Id7


class NotedBody(Strict):
    """A remark in the person's own words."""

    text: Text2000


class AbandonedBody(Strict):
    """Why the trial was stopped."""

    reason: Literal["cracked", "fell_off", "torch_changed", "missed_press", "other"]


class KeptBody(Strict):
    """The person looked at the times and keeps them."""


class Envelope(Strict):
    """What every entry carries."""

    id: Id7
    subject: Id
    n: int = Field(ge=0, le=100_000)
    device: Id
    at_ms: EpochMs


class Started(Envelope):
    kind: Literal["trial.started"]
    body: StartedBody


class Pressed(Envelope):
    kind: Literal["trial.pressed"]
    body: Stamp


class TakenBack(Envelope):
    kind: Literal["trial.taken_back"]
    body: TakenBackBody


class Corrected(Envelope):
    kind: Literal["trial.corrected"]
    body: CorrectedBody


class Noted(Envelope):
    kind: Literal["trial.noted"]
    body: NotedBody


class Abandoned(Envelope):
    kind: Literal["trial.abandoned"]
    body: AbandonedBody


class Kept(Envelope):
    kind: Literal["trial.kept"]
    body: KeptBody


EntryIn = TypeAdapter(Annotated[Started | Pressed | TakenBack | Corrected | Noted | Abandoned | Kept, Field(discriminator="kind")])


class TrialEntry(SQLModel, table=True):
    """One stored entry; `body` is canonical JSON, `seq` its place in the order of arrival."""

    __tablename__ = "trial_entry"
    __table_args__ = (Index("ix_trial_entry_subject", "subject"), Index("ix_trial_entry_kind", "kind"))

    id: str = ColumnField(primary_key=True, max_length=36)
    seq: int = ColumnField(unique=True)
    kind: str = ColumnField(max_length=40)
    subject: str = ColumnField(max_length=36)
    n: int
    device: str = ColumnField(max_length=36)
    at_ms: int = ColumnField(sa_column=Column(BigInteger, nullable=False))
    body: str = ColumnField(sa_column=Column(Text, nullable=False))
    digest: str = ColumnField(max_length=64)
    received_ms: int = ColumnField(sa_column=Column(BigInteger, nullable=False))
