"""The page that takes in a table, and the preview of one. Only a push of entries stores a glass; nothing is stored here."""

from typing import Annotated, Literal

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse
from pydantic import BaseModel, ConfigDict, Field

from server.glass import own
from server.intake.columns import KEPT_AS, UNITS
from server.intake.preview import Options, grid_of, preview
from server.physics.analysis import methods
from server.physics.composition import OXIDE_OF_ELEMENT, OXIDES
from server.web.page import fragment, page

router = APIRouter()
ROLE_WORDS = {
    "id": "Sample", "name": "Name", "family": "Family", "period": "Period", "region": "Place", "source": "Source", "note": "Remarks",
    "total": "Total, to compare", "count": "Number of analyses", "repeat": "Spot or repeat no.", "ignore": "Not used",
}
UNIT_WORDS = {"wt": "wt%", "mol": "mol%", "ppm": "ppm", "ppb": "ppb"}


class Correction(BaseModel):
    """What a person says that a column is."""

    model_config = ConfigDict(strict=True, extra="forbid")

    role: str = Field(max_length=12)
    of: str = Field(default="", max_length=12)
    unit: str = Field(default="", max_length=4)


class Asked(BaseModel):
    """A table with what a person has said about it: pasted text, or a file in base64."""

    model_config = ConfigDict(strict=True, extra="forbid")

    text: str = ""
    file: str = ""
    sheet: str = Field(default="", max_length=64)
    corrections: dict[Annotated[str, Field(pattern=r"^\d{1,3}$")], Correction] = Field(default_factory=dict, max_length=400)
    turn: Literal["auto", "yes", "no"] = "auto"
    decimal: Literal["auto", "comma", "point"] = "auto"
    repeats: Literal["mean", "each"] = "mean"
    blank: Literal["own", "above"] = "own"
    method: own.Method = "not stated"
    surface: own.Surface = "not stated"
    source: str = Field(default="", max_length=400, pattern=r"^[^\x00-\x1f\x7f]*$")

    def options(self) -> Options:
        said = {int(index): (c.role, c.of, c.unit) for index, c in self.corrections.items()}
        return Options(said, self.turn, self.decimal, self.repeats, self.blank, self.method, self.surface, self.source)


def shell_pages() -> list[str]:
    """The page holds no data of the desk: the tablet serves it itself, with the draft it keeps."""
    return ["/intake"]


def fallback_pages() -> list[str]:
    """Pages fetched first, kept as a fallback."""
    return []


@router.get("/intake", include_in_schema=False)
def index(request: Request) -> HTMLResponse:
    """Paste a table or choose a file."""
    return page(request, "intake/index.html", place="glasses", methods=methods().values())


@router.post("/intake/preview")
def preview_table(asked: Asked, request: Request) -> HTMLResponse:
    """How every column and row is understood. Nothing is stored. Raises Refused."""
    with request.app.state.store.read() as session:
        at_the_desk = own.names(session)
    made = preview(grid_of(asked.text, asked.file, asked.sheet), asked.options(), at_the_desk)
    context = {"made": made, "asked": asked, "oxides": OXIDES, "elements": tuple(OXIDE_OF_ELEMENT), "role_words": ROLE_WORDS, "unit_words": UNIT_WORDS, "units": UNITS, "kept_as": KEPT_AS}
    return fragment(request, "intake/_preview.html", **context)
