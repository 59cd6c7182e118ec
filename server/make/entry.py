"""Wire classes of a firing: what the kiln was told, what was read of it, and how it ended."""

from typing import Annotated, Literal

from pydantic import Field, TypeAdapter, model_serializer

from server.store.log import Envelope, Id7, Strict, line

Celsius = Annotated[float, Field(ge=-50, le=2000)]


class FiredGlass(Strict):
    """A glass in the kiln: its key and name."""

    key: line(120)
    name: line(120, 1)


class SegmentIn(Strict):
    """A line of the programme, as server/physics/anneal.py gives it."""

    kind: Literal["heat", "down", "slow", "fast"]
    from_c: Celsius
    to_c: Celsius
    rate_k_h: Annotated[float, Field(gt=0, le=10_000)]
    hold_min: Annotated[float, Field(ge=0, le=10_000)]
    stress_pa: Annotated[float, Field(ge=0, le=1e9)]
    is_by_kiln: bool


class StartedBody(Strict):
    """The plan, at the moment when the kiln was switched on. Sizes in mm, temperatures in °C."""

    glasses: list[FiredGlass] = Field(min_length=1, max_length=3)
    shape: Literal["bead", "rod", "slab", "shelf"]
    size_mm: Annotated[float, Field(ge=0.5, le=200)]
    soak_c: Celsius
    open_c: Celsius
    segments: list[SegmentIn] = Field(min_length=1, max_length=8)


Minutes = Annotated[int, Field(ge=1, le=20_160)]  # two weeks


class ReadBody(Strict):
    """What the kiln showed at the entry's moment, or so many minutes before it."""

    t_c: Celsius
    ago_min: Minutes | None = None

    @model_serializer(mode="wrap")
    def _without_an_empty_ago(self, write):
        return {key: value for key, value in write(self).items() if key != "ago_min" or value is not None}


class BegunBody(Strict):
    """The kiln was switched on so many minutes before the start was recorded."""

    ago_min: Minutes


class TakenBackBody(Strict):
    """A reading, or an end, that was none."""

    entry: Id7


class EndedBody(Strict):
    """What came out."""

    outcome: Literal["whole", "cracked", "stuck", "other"]
    note: line(400)


class Started(Envelope):
    kind: Literal["firing.started"]
    body: StartedBody


class Read(Envelope):
    kind: Literal["firing.read"]
    body: ReadBody


class Begun(Envelope):
    kind: Literal["firing.begun"]
    body: BegunBody


class TakenBack(Envelope):
    kind: Literal["firing.taken_back"]
    body: TakenBackBody


class Ended(Envelope):
    kind: Literal["firing.ended"]
    body: EndedBody


KINDS = TypeAdapter(Annotated[Started | Begun | Read | TakenBack | Ended, Field(discriminator="kind")])
