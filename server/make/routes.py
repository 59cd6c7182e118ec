"""Pages of making: colouring a glass, blending glasses, kiln programmes. The sums are made in the page, which works at the bench without the desk; the rules stand in server/physics/addition.py and anneal.py. A replica batch is reckoned in the page at once and checked at the desk."""

from functools import cache
from typing import Annotated

import numpy as np
from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, JSONResponse
from pydantic import BaseModel, ConfigDict, Field

from server.errors import Refused
from server.make.batch import Material, told, usual_materials
from server.physics.addition import compounds
from server.physics.composition import INDEX, OXIDES
from server.physics.table import table
from server.store import log
from server.web.page import page

router = APIRouter(include_in_schema=False)
RESOLUTIONS_G = (1, 0.1, 0.01, 0.001, 0.0001)
Shares = dict[str, Annotated[float, Field(ge=0, le=150)]]


class MaterialIn(BaseModel):
    """A raw material as the page sends it."""

    model_config = ConfigDict(extra="forbid", allow_inf_nan=False)

    name: Annotated[str, Field(max_length=120)]
    wt: Shares
    price_kg: Annotated[float, Field(ge=0, le=1e6)] | None = None
    most_g: Annotated[float, Field(ge=0, le=1e7)] | None = None


class BatchIn(BaseModel):
    """A target in wt%, the mass of glass wanted, and what there is to make it of."""

    model_config = ConfigDict(extra="forbid", allow_inf_nan=False)

    wt: Shares
    glass_g: Annotated[float, Field(gt=0, le=1e6)]
    materials: Annotated[list[MaterialIn], Field(min_length=1, max_length=40)]


def shell_pages() -> list[str]:
    """Pages that hold no server data: served from the tablet first."""
    return ["/make/colour", "/make/blend", "/make/kiln", "/make/firing", "/make/batch", "/make/materials.json", "/make/compounds.json", "/make/anneal.json"]


def fallback_pages() -> list[str]:
    """Pages fetched first, kept as a fallback."""
    return ["/make/firings.json"]


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
    told = {name: data[name] for name in ("usual", "redox", "hazards", "poisons", "hazards_status")}
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


def _row(wt: dict[str, float]) -> np.ndarray:
    """wt% by OXIDES. Raises Refused for an oxide that is not known."""
    row = np.zeros(len(OXIDES))
    for name, share in wt.items():
        if name not in INDEX:
            raise Refused(f"{name[:40]} is not an oxide that Isokom knows.", code="unknown_name", field=name[:40])
        row[INDEX[name]] = share
    return row


@router.get("/make/materials.json")
def materials_json() -> JSONResponse:
    """Usual raw materials with their analyses, to be changed in the page."""
    told = {name: table("compounds")[name] for name in ("hazards", "poisons", "harmful_oxides", "hazards_status")} | {name: table("materials")[name] for name in ("beyond_wt", "most_of_a_material_wt")}
    return JSONResponse({"materials": usual_materials(), **told}, headers={"Cache-Control": "no-cache"})


@router.get("/make/batch")
def batch(request: Request) -> HTMLResponse:
    """From raw materials to a replica: weights, what is lacking, yield, gas, price."""
    return page(request, "make/batch.html", place="bench", materials=usual_materials())


@router.post("/make/batch.json")
def batch_json(asked: BatchIn) -> JSONResponse:
    """The nearest batch; nothing is stored. Raises Refused."""
    materials = [Material(one.name, _row(one.wt), one.price_kg, one.most_g) for one in asked.materials]
    return JSONResponse(told(_row(asked.wt), asked.glass_g, materials), headers={"Cache-Control": "no-store"})


@router.get("/make/firing")
def firing(request: Request) -> HTMLResponse:
    """A firing as it goes: plan, readings, end."""
    return page(request, "make/firing.html", place="bench")


@router.get("/make/firings.json")
def firings_json(request: Request) -> JSONResponse:
    """Every entry of every firing, for other tablets."""
    with request.app.state.store.read() as session:
        return JSONResponse({"entries": log.entries(session, "firing")}, headers={"Cache-Control": "no-cache"})
