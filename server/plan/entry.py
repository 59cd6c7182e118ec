"""Wire classes of a session's entries: its plan, the standing conditions, and what became of it."""

from typing import Annotated, Literal

from pydantic import Field, TypeAdapter, model_serializer, model_validator

from server.plan.order import runs_of
from server.store.latest import Statement
from server.store.log import Envelope, Id, Strict, line


TestKind = Literal["flame", "fuse", "strip", "pull", "thread"]


class Planned(Strict):
    """One glass, or one piece of a find with its keeper's consent."""

    key: line(120) | None
    name: line(120)
    piece_id: Id | None
    piece: line(80) | None
    consent: bool | None

    @model_validator(mode="after")
    def _is_named_and_agreed(self) -> "Planned":
        """A piece is planned only with its keeper's agreement; everything planned has a name."""
        if self.piece is not None and self.consent is not True:
            raise ValueError("a piece of a find is planned only when its keeper has agreed")
        if not (self.name if self.piece is None else self.piece).strip():
            raise ValueError("what is planned has no name")
        return self


class Run(Strict):
    """One run: which glass, from which block (None for the reference), and the code on its dish."""

    glass: int = Field(ge=0, le=19)
    block: Annotated[int, Field(ge=0, le=29)] | None
    code: line(4, 1)
    is_reference: bool


class Conditions(Strict):
    """What stands through a session. Lengths in cm, temperatures in °C; "" and None where nobody looked."""

    torch: line(80)
    nozzle: line(80)
    fuel: line(80)
    cylinder: line(80)
    distance_cm: Annotated[float, Field(ge=0, le=100)] | None
    holder: line(80)
    room_c: Annotated[float, Field(ge=-40, le=60)] | None
    light: line(80)
    operator: line(80)


class MadeBody(Strict):
    """The plan of a session; masses in g, minutes for one run with its setting up; within how many per cent two glasses count as alike, said before any time is known.

    What a later version added is left out where it says nothing, so that the seal of an older entry stays the same.
    """

    title: line(80)
    test: TestKind
    repeats: int = Field(ge=1, le=30)
    mass_g: float = Field(gt=0, le=1000)
    preheat_c: float = Field(ge=-50, le=1500)
    minutes_each: float = Field(gt=0, le=600)
    is_blind: bool
    seed: line(40, 1)
    reference: Annotated[int, Field(ge=0, le=19)] | None
    glasses: list[Planned] = Field(min_length=1, max_length=20)
    runs: list[Run] = Field(min_length=1, max_length=310)
    conditions: Conditions
    margin_percent: Annotated[float, Field(ge=1, le=100)] | None = None

    @model_serializer(mode="wrap")
    def _without_silent_additions(self, write):
        return {key: value for key, value in write(self).items() if key != "margin_percent" or value is not None}

    @model_validator(mode="after")
    def _follows_its_seed(self) -> "MadeBody":
        """The order is the one that the seed gives."""
        if (self.reference or 0) >= len(self.glasses):
            raise ValueError("the reference is none of the glasses")
        if [run.model_dump() for run in self.runs] != runs_of(self.seed, len(self.glasses), self.repeats, self.reference):
            raise ValueError("the order is not the one that the seed gives")
        return self


class WhyBody(Strict):
    """A reason in one line, which may be empty."""

    why: line(200)


class ConditionsBody(Statement):
    """The conditions as they are from now on, and why they changed."""

    conditions: Conditions
    why: line(200)


class UnblindedBody(Strict):
    """What was uncovered: the list for laying out, or everything."""

    what: Literal["list", "all"]
    why: line(200)


class RunBody(Statement):
    """A run that was left out, or done elsewhere, and why."""

    run: int = Field(ge=0, le=309)
    why: line(200)


class Made(Envelope):
    kind: Literal["plan.made"]
    body: MadeBody


class Changed(Envelope):
    kind: Literal["plan.conditions"]
    body: ConditionsBody


class Unblinded(Envelope):
    kind: Literal["plan.unblinded"]
    body: UnblindedBody


class Skipped(Envelope):
    """A run left out, done elsewhere, or, after that or after a stop, to be done after all."""

    kind: Literal["plan.skipped", "plan.done", "plan.reopened"]
    body: RunBody


class Closed(Envelope):
    kind: Literal["plan.closed"]
    body: WhyBody


KINDS = TypeAdapter(Annotated[Made | Changed | Unblinded | Skipped | Closed, Field(discriminator="kind")])
