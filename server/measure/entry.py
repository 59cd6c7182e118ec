"""Wire classes of a measured test's entries."""

import re
from typing import Annotated, Literal

from pydantic import Field, TypeAdapter, model_serializer, model_validator

from server.measure.kinds import LETTERS, PLACES, is_place, wrong_reading, wrong_setup
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


class Dish(Strict):
    """One run of a session: its code, the letter of its glass, and the square where its chip lies (empty but in a fuse test)."""

    run: int = Field(ge=0, le=309)
    code: line(4, 1)
    letter: line(1, 1)
    place: line(8)


class StartedBody(Strict):
    """What is tested and how; in a session also which of its dishes. What a later version added is left out where it says nothing, so that older seals stay."""

    test: Literal["pull", "thread", "fuse", "strip"]
    title: line(80)
    glasses: Annotated[list[Glass], Field(min_length=1, max_length=len(LETTERS))]
    setup: dict[line(40, 1), float | line(40)]
    consent: bool | None
    operator: line(80, 1) | None
    session: Id | None = None
    dishes: list[Dish] = Field(default=[], max_length=48)

    @model_serializer(mode="wrap")
    def _without_silent_additions(self, write):
        return {key: value for key, value in write(self).items() if key not in ("session", "dishes") or value}

    @model_validator(mode="after")
    def _lies_in_its_dishes(self) -> "StartedBody":
        """A test of a session names its dishes, each once; those of a fuse test lie on squares of their own, any other test is of one dish."""
        if (self.session is None) != (not self.dishes):
            raise ValueError("a test of a session names its dishes")
        if any(dish.letter not in LETTERS[: len(self.glasses)] for dish in self.dishes):
            raise ValueError("a dish holds none of the glasses")
        if self.test == "fuse" and not all(is_place("fuse", dish.place) for dish in self.dishes):
            raise ValueError("a chip of a session lies on no square of the board")
        if self.dishes and self.test != "fuse" and (len(self.dishes) > 1 or self.dishes[0].place):
            raise ValueError("this test is of one dish")
        for named in ([dish.run for dish in self.dishes], [dish.place for dish in self.dishes]):
            if len(set(named)) < len(named):
                raise ValueError("two dishes are the same run, or lie on one square")
        return self

    @model_validator(mode="after")
    def _can_be_done(self) -> "StartedBody":
        """Pieces of finds are heated only with their keeper's agreement; the setup is the one of the test."""
        if any(g.piece is not None or g.piece_id is not None for g in self.glasses) and self.consent is not True:
            raise ValueError("a piece of a find is heated only when its keeper has agreed")
        pieces = [g.piece_id for g in self.glasses if g.piece_id]
        if len(set(pieces)) < len(pieces):
            raise ValueError("a piece lies in a test once, with the mass of all its chips")
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
