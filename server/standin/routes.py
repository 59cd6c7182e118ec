"""The stand-in page: choose a glass, see which glasses of the other side work most like it."""

from typing import Annotated, Literal

from fastapi import APIRouter, Query, Request
from fastapi.responses import HTMLResponse

from server.glass import catalog, own
from server.glass.catalog import Glass
from server.standin import view
from server.standin.margins import CRITERIA, margins_from
from server.standin.ranking import Ranking, rank
from server.standin.sides import partners, side_of, taken_as
from server.web.page import fragment, page

router = APIRouter(include_in_schema=False)
Key = Annotated[str, Query(alias="g", max_length=120)]
Side = Annotated[Literal["", "ancient", "modern"], Query()]


def shell_pages() -> list[str]:
    """Nothing here holds without the desk."""
    return []


def fallback_pages() -> list[str]:
    """Nothing is kept in advance: the chooser would stand in for a ranking that was asked for. What was opened is kept by the worker's own rule."""
    return []


def _everything(request: Request) -> list[Glass]:
    """Own glasses first, then the catalogue."""
    with request.app.state.store.read() as session:
        return own.all_glasses(session) + list(catalog.glasses().values())


def _find(request: Request, key: str) -> Glass:
    """The glass of a key, own or catalogue. Raises Missing."""
    if not key.startswith("own/"):
        return catalog.find(key)
    with request.app.state.store.read() as session:
        return own.find(session, key.removeprefix("own/"))


def _ranked(request: Request, key: str, side: str, references: bool) -> Ranking:
    """Raises Missing, and Refused where a margin is no sound number."""
    margins = margins_from(request.query_params)
    glass = _find(request, key)
    side = taken_as(glass, side)
    return rank(glass, side, partners(glass, side, _everything(request), references), margins)


@router.get("/stand-ins")
def index(request: Request, g: Key = "", side: Side = "", references: bool = False) -> HTMLResponse:
    """The ranking for one glass, or the choice of one."""
    if g:
        return _show(request, _ranked(request, g, side, references), references)
    groups: dict[str, list[Glass]] = {}
    for glass in _everything(request):
        groups.setdefault("Own glasses" if glass.kind == "own analysis" else side_of(glass), []).append(glass)
    return page(request, "standin/index.html", place="glasses", groups=groups)


@router.get("/frag/stand-ins")
def ranking(request: Request, g: Key, side: Side = "", references: bool = False) -> HTMLResponse:
    """The ranking alone, for changed margins."""
    made = _ranked(request, g, side, references)
    return fragment(request, "standin/_ranking.html", made=made, view=view)


def _show(request: Request, made: Ranking, references: bool) -> HTMLResponse:
    return page(request, "standin/show.html", place="glasses", made=made, criteria=CRITERIA, references=references, view=view)
