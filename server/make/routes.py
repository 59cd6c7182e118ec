"""Pages of making: colouring a glass, blending glasses, kiln programmes. The sums are made in the page, which works at the bench without the desk; the rules stand in server/physics/addition.py and anneal.py."""

from functools import cache

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, JSONResponse

from server.physics.addition import compounds
from server.physics.table import table
from server.web.page import page

router = APIRouter(include_in_schema=False)
RESOLUTIONS_G = (1, 0.1, 0.01, 0.001, 0.0001)


def shell_pages() -> list[str]:
    """Pages that hold no server data: served from the tablet first."""
    return ["/make/colour", "/make/blend", "/make/kiln", "/make/compounds.json", "/make/anneal.json"]


def fallback_pages() -> list[str]:
    """Pages fetched first, kept as a fallback."""
    return []


@cache
def by_group() -> dict[str, list[dict]]:
    """The compounds as a list to choose from."""
    found: dict[str, list[dict]] = {}
    for one in compounds().values():
        found.setdefault(one["group"], []).append(one)
    return found


@router.get("/make/compounds.json")
def compounds_json() -> JSONResponse:
    """Every compound with what it leaves in the glass, and what is usual, told and dangerous of it."""
    data = table("compounds")
    told = {name: data[name] for name in ("usual", "redox", "hazards", "hazards_status")}
    return JSONResponse({"compounds": compounds(), **told}, headers={"Cache-Control": "no-cache"})


@router.get("/make/colour")
def colour(request: Request) -> HTMLResponse:
    """Weigh colourants into a base glass: grams, composition, and how its working changes."""
    return page(request, "make/colour.html", place="bench", groups=by_group(), resolutions=RESOLUTIONS_G)


@router.get("/make/blend")
def blend(request: Request) -> HTMLResponse:
    """Melt glasses together: composition, and how working runs along the mixing line."""
    return page(request, "make/blend.html", place="bench", resolutions=RESOLUTIONS_G)


@router.get("/make/anneal.json")
def anneal_json() -> JSONResponse:
    """Shapes, figures and rules of annealing."""
    return JSONResponse(table("anneal"), headers={"Cache-Control": "no-cache"})


@router.get("/make/kiln")
def kiln(request: Request) -> HTMLResponse:
    """What to tell the kiln for a glass and a piece: soak, rates, stress, and when to open."""
    return page(request, "make/kiln.html", place="bench", data=table("anneal"))
