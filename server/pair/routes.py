"""Pages of a pair of glasses: choose two and a form of joint; the sum is made here, at the desk."""

from typing import Annotated, Literal

from fastapi import APIRouter, Query, Request
from fastapi.responses import HTMLResponse

from server.glass import catalog, own
from server.glass.catalog import Glass
from server.pair import drawing, view
from server.pair.joint import Asked, judge, lacks
from server.physics.table import table
from server.web.page import fragment, page

router = APIRouter(include_in_schema=False)
Key = Annotated[str, Query(min_length=1, max_length=80)]
PathMm = Annotated[float | None, Query(ge=0.5, le=50, allow_inf_nan=False)]
Share = Annotated[float | None, Query(ge=0.1, le=0.95, allow_inf_nan=False)]


def shell_pages() -> list[str]:
    """The empty page stays on the tablet, so that it can say that the sum needs the desk."""
    return ["/pair"]


def fallback_pages() -> list[str]:
    """Nothing: an answer is made anew each time."""
    return []


@router.get("/pair")
def index(request: Request) -> HTMLResponse:
    """Choose two glasses and how they are joined; the choice stands in the address."""
    return page(request, "pair/index.html", place="glasses", forms=view.FORMS, defaults=table("seal")["forms"])


@router.get("/frag/pair")
def answer(request: Request, a: Key, b: Key, form: Literal["strip", "core", "trail"], path: PathMm = None, share: Share = None) -> HTMLResponse:
    """Whether b holds on a, or in words why nobody can say. Raises Missing."""
    usual = table("seal")["forms"][form]
    asked = Asked(_find(request, a), _find(request, b), form, path or usual["path_mm"], share or usual["share"])
    missing = [(glass, lacks(glass)) for glass in {g.key: g for g in (asked.a, asked.b)}.values() if lacks(glass)]
    if missing:
        return fragment(request, "pair/_refused.html", asked=asked, missing=missing, view=view)
    made = judge(asked)
    drawn = drawing.picture(form, made["strain"]["value"])
    return fragment(request, "pair/_answer.html", asked=asked, made=made, drawn=drawn, view=view, rule=table("seal"), colour=table("colour"))


def _find(request: Request, key: str) -> Glass:
    """A glass of the catalogue or, with `own/` in front, one of the user's. Raises Missing."""
    if not key.startswith("own/"):
        return catalog.find(key)
    with request.app.state.store.read() as session:
        return own.find(session, key.removeprefix("own/"))
