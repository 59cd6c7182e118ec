"""Wire classes of the entries of finds and their pieces."""

from datetime import date
from typing import Annotated, Literal

from pydantic import AfterValidator, Field, StringConstraints, TypeAdapter, model_validator

from server.store.latest import Statement
from server.store.log import Envelope, Id, Id7, Strict, line
from server.store.picture import Jpeg, Side

TESTS = ("flame", "fuse", "strip", "pull", "thread")
CODE = r"^[A-HJ-NP-Z2-9]{4,5}$"  # no 0 and O, no 1 and I
MOST_G = 100_000

Test = Literal["flame", "fuse", "strip", "pull", "thread"]
Grams = Annotated[float, Field(gt=0, le=MOST_G)]
Weighing = Annotated[float, Field(ge=0, le=MOST_G)]


def _is_day(text: str) -> str:
    """A day as 2026-11-25, or nothing."""
    if text and (len(text) != 10 or date.fromisoformat(text).isoformat() != text):
        raise ValueError("a day is written 2026-11-25")
    return text


Day = Annotated[str, AfterValidator(_is_day)]


class FindBody(Statement):
    """The facts of a find, all of them each time."""

    site: line(120)
    context: line(120)
    number: line(80, 1)
    keeper: line(120)
    loan_from: Day
    due: Day
    note: line(2000)

    @model_validator(mode="after")
    def _goes_back_after_it_came(self) -> "FindBody":
        if self.loan_from and self.due and self.due < self.loan_from:
            raise ValueError("the loan is due before it began")
        return self


class ConsentBody(Statement):
    """What the keeper was asked or said about tests that use the find up; the latest statement counts, and the stricter of two that know nothing of each other."""

    state: Literal["asked", "given", "refused"]
    by: line(120)
    on: Day
    limit_g: Grams | None
    limit_piece_g: Grams | None
    tests: list[Test] = Field(max_length=len(TESTS))
    note: line(2000)

    @model_validator(mode="after")
    def _says_what_is_allowed(self) -> "ConsentBody":
        if len(set(self.tests)) != len(self.tests):
            raise ValueError("a test is named twice")
        if self.state == "given" and not (self.by.strip() and self.on and self.tests):
            raise ValueError("a consent says by whom, on which day and for which tests")
        return self


class PieceBody(Statement):
    """The facts of a piece, all of them each time."""

    find: Id
    label: line(80, 1)
    code: Annotated[str, StringConstraints(pattern=CODE)]
    colour: line(80)
    opacity: line(40)
    condition: line(200)
    glass_key: line(120, 1) | None
    glass_name: line(120)
    link: Literal["own", "like", "none"]
    note: line(2000)

    @model_validator(mode="after")
    def _names_the_glass_it_is_linked_to(self) -> "PieceBody":
        if (self.link == "none") != (self.glass_key is None and not self.glass_name.strip()):
            raise ValueError("a link names a glass, and a glass is linked")
        return self


class WeighedBody(Strict):
    mass_g: Weighing
    u_g: Annotated[float, Field(ge=0, le=MOST_G)] | None


class CutBody(Strict):
    """Cut off, and now a piece of its own."""

    into: Id
    mass_g: Grams


class UsedBody(Strict):
    mass_g: Grams
    test: Test
    trial: Id | None


class LostBody(Strict):
    mass_g: Grams
    why: line(200)


class ReturnedBody(Strict):
    mass_g: Grams
    to: line(120)


class UndoneBody(Strict):
    """Names the row or photo of this piece that does not count."""

    entry: Id7
    why: line(200)


class PhotoBody(Strict):
    """A picture that the tablet has redrawn, so that it carries no place and no camera."""

    jpeg: Jpeg
    width: Side
    height: Side
    caption: line(200)


class FindOpened(Envelope):
    kind: Literal["find.opened", "find.changed"]
    body: FindBody


class FindConsent(Envelope):
    kind: Literal["find.consent"]
    body: ConsentBody


class PieceAdded(Envelope):
    kind: Literal["piece.added", "piece.changed"]
    body: PieceBody


class PieceWeighed(Envelope):
    kind: Literal["piece.weighed"]
    body: WeighedBody


class PieceCut(Envelope):
    kind: Literal["piece.cut"]
    body: CutBody

    @model_validator(mode="after")
    def _is_another_piece(self) -> "PieceCut":
        if self.body.into == self.subject:
            raise ValueError("a piece is cut into another piece")
        return self


class PieceUsed(Envelope):
    kind: Literal["piece.used"]
    body: UsedBody


class PieceLost(Envelope):
    kind: Literal["piece.lost"]
    body: LostBody


class PieceReturned(Envelope):
    kind: Literal["piece.returned"]
    body: ReturnedBody


class PieceUndone(Envelope):
    kind: Literal["piece.undone"]
    body: UndoneBody


class PiecePhoto(Envelope):
    kind: Literal["piece.photo"]
    body: PhotoBody


AnyEntry = FindOpened | FindConsent | PieceAdded | PieceWeighed | PieceCut | PieceUsed | PieceLost | PieceReturned | PieceUndone | PiecePhoto
EntryIn = TypeAdapter(Annotated[AnyEntry, Field(discriminator="kind")])
