"""Wire classes of a measured test's entries."""

import re
from typing import Annotated, Literal

from pydantic import Field, TypeAdapter, model_serializer, model_validator

from server.measure.kinds import LETTERS, PLACES, wrong_reading, wrong_setup
from server.store.log import Envelope, Id, Strict, line
from server.store.picture import Jpeg, Side

COUNTS = {"pull": (2, len(LETTERS)), "thread": (2, 2), "fuse": (1, len(LETTERS)), "strip": (1, len(LETTERS))}


class Glass(Strict):
    """One glass of the test; its letter is its place in the list. `key` is a known glass, `piece` a piece of a find."""

    key: line(120, 1) | None
    name: line(120, 1)
    piece_id: Id | None
    piece: line(80, 1) | None
    mass_g: Annotated[float, Field(gt=0, le=1000)] | None


class StartedBody(Strict):
    """What is tested and how."""

    test: Literal["pull", "thread", "fuse", "strip"]
    title: line(80)
    glasses: Annotated[list[Glass], Field(min_length=1, max_length=len(LETTERS))]
    setup: dict[line(40, 1), float | line(40)]
    consent: bool | None
    operator: line(80, 1) | None

    @model_validator(mode="after")
    def _can_be_done(self) -> "StartedBody":
        """Pieces of finds are heated only with their keeper's agreement; the setup is the one of the test."""
        if any(g.piece is not None or g.piece_id is not None for g in self.glasses) and self.consent is not True:
            raise ValueError("a piece of a find is heated only when its keeper has agreed")
        fewest, most = COUNTS[self.test]
        if not fewest <= len(self.glasses) <= most:
            raise ValueError(f"a {self.test} test is of {fewest}{f' to {most}' if most > fewest else ''} glass{'es' if most > 1 else ''}")
        if wrong := wrong_setup(self.test, self.setup, len(self.glasses)):
            raise ValueError(wrong)
        return self


class ReadBody(Strict):
    """One reading: a number or a word; an empty word takes the reading back. `why` is given for a change after the test was kept."""

    place: line(8, 1)
    quantity: line(40, 1)
    value: float | None
    word: line(24) | None
    why: line(200) = ""

    @model_validator(mode="after")
    def _can_be_read(self) -> "ReadBody":
        if wrong := wrong_reading(self.place, self.quantity, self.value, self.word):
            raise ValueError(wrong)
        return self

    @model_serializer(mode="wrap")
    def _without_an_empty_why(self, write):
        return {key: value for key, value in write(self).items() if key != "why" or value}


class PhotoBody(Strict):
    """A picture, made small on the tablet and drawn anew there, so that nothing but the picture is in it. An empty place is the whole test."""

    place: line(8)
    jpeg: Jpeg
    width: Side
    height: Side
    caption: line(200)

    @model_validator(mode="after")
    def _is_somewhere(self) -> "PhotoBody":
        if self.place and not any(re.fullmatch(pattern, self.place) for pattern in PLACES.values()):
            raise ValueError("no test has such a place")
        return self


class NotedBody(Strict):
    """A remark in the person's own words."""

    text: line(2000, 1)


class KeptBody(Strict):
    """The person looked at the readings and keeps them."""


class AbandonedBody(Strict):
    """Why the test was stopped."""

    reason: line(200, 1)


class Started(Envelope):
    kind: Literal["measure.started"]
    body: StartedBody

    @model_validator(mode="after")
    def _is_first(self) -> "Started":
        if self.n != 0:
            raise ValueError("the start is the first entry")
        return self


class Read(Envelope):
    kind: Literal["measure.read"]
    body: ReadBody


class Photo(Envelope):
    kind: Literal["measure.photo"]
    body: PhotoBody


class Noted(Envelope):
    kind: Literal["measure.noted"]
    body: NotedBody


class Kept(Envelope):
    kind: Literal["measure.kept"]
    body: KeptBody


class Abandoned(Envelope):
    kind: Literal["measure.abandoned"]
    body: AbandonedBody


KINDS = TypeAdapter(Annotated[Started | Read | Photo | Noted | Kept | Abandoned, Field(discriminator="kind")])
