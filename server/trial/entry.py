"""Wire and row classes of a trial's entries. Rows are built only through model_validate from a validated wire entry."""

from typing import Annotated, Literal

from pydantic import Field, TypeAdapter, model_serializer, model_validator
from sqlalchemy import Index

from server.store import log
from server.store.latest import Statement
from server.store.log import Id, Id7, Stored, Strict, line

MAX_EXACT_INT = 2**53 - 1
# A name of one blank was once taken in, so it still is; line(80, 1) would ask for more.
NotEmpty80 = Annotated[line(80), Field(min_length=1)]
Text2000 = Annotated[line(2000), Field(min_length=1)]
EpochMs = Annotated[int, Field(ge=0, le=MAX_EXACT_INT)]


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

    glass_key: line(120) | None
    glass_name: line(120)
    piece: NotEmpty80 | None
    consent: bool | None
    keeper: line(120) | None
    mass_g: float = Field(gt=0, le=1000)
    preheat_c: float = Field(ge=-50, le=1500)
    torch: line(500)
    operator: line(80) | None
    press: StartStamp
    piece_id: Id | None = None
    session: Id | None = None
    run: Annotated[int, Field(ge=0, le=999)] | None = None
    code: line(20) = ""
    out_of_kiln: KilnStamp | None = None
    checked: list[Literal["weighed", "kiln"]] = Field(default=[], max_length=2)

    @model_serializer(mode="wrap")
    def _without_silent_additions(self, write):
        silent = {"piece_id": None, "session": None, "run": None, "code": "", "out_of_kiln": None, "checked": []}
        return {key: value for key, value in write(self).items() if key not in silent or value != silent[key]}

    @model_validator(mode="after")
    def _is_named_and_agreed(self) -> "StartedBody":
        """A piece of a find is heated only with its keeper's agreement; a trial is of something that has a name; one of a session names its run and code."""
        if self.session is not None and (self.run is None or not self.code.strip()):
            raise ValueError("a trial of a session names its run and the code on its dish")
        if self.piece is not None and self.consent is not True:
            raise ValueError("a piece of a find is heated only when its keeper has agreed")
        if not (self.glass_name if self.piece is None else self.piece).strip():
            raise ValueError("what was heated has no name")
        return self


class CorrectedBody(Strict):
    """A press that came early or late: how many ms to add to it, and why. The press itself stays as it was made.

    The press at the kiln travels inside the start: then `entry` is the start and `stage` says so.
    """

    entry: Id7
    shift_ms: float = Field(ge=-60_000, le=60_000)
    reason: Literal["late", "early", "slip", "other"]
    text: line(200) = ""
    stage: Literal["", "kiln_out"] = ""

    @model_serializer(mode="wrap")
    def _without_an_empty_stage(self, write):
        return {key: value for key, value in write(self).items() if key != "stage" or value}


class TakenBackBody(Strict):
    """Names the press that does not count."""

    entry: Id7


class NotedBody(Strict):
    """A remark in the person's own words."""

    text: Text2000


class AbandonedBody(Strict):
    """Why the trial was stopped."""

    reason: Literal["cracked", "fell_off", "torch_changed", "missed_press", "other"]


class TakenInBody(Statement):
    """Which time counts again."""

    lane: Literal["sag", "round", "glow", "all"]


class LeftOutBody(TakenInBody):
    """Which time does not count from now on, and why. Said at the desk, whenever it is looked at; the time itself stays."""

    why: line(200, 1)


class KeptBody(Strict):
    """The person looked at the times and keeps them."""


class Envelope(log.Envelope):
    """What every entry carries. A tablet whose clock runs wild may still tell its trials."""

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


class LeftOut(Envelope):
    kind: Literal["trial.left_out"]
    body: LeftOutBody


class TakenIn(Envelope):
    kind: Literal["trial.taken_in"]
    body: TakenInBody


EntryIn = TypeAdapter(Annotated[Started | Pressed | TakenBack | Corrected | Noted | Abandoned | Kept | LeftOut | TakenIn, Field(discriminator="kind")])


class TrialEntry(Stored, table=True):
    """An entry of a trial."""

    __tablename__ = "trial_entry"
    __table_args__ = tuple(Index(f"ix_trial_entry_{column}", column, "seq") for column in log.NAMED)
