"""Pages of the glasses: look up, one glass, a new analysis, compare; and the data the tablet keeps for them."""

from typing import Annotated

from fastapi import APIRouter, Query, Request
from fastapi.responses import HTMLResponse, JSONResponse, Response

from server.glass import catalog, neighbours, own, properties, recipe, record, view
from server.glass.catalog import Glass
from server.glass.kin import kin_of
from server.physics.analysis import methods
from server.physics.composition import OXIDE_OF_ELEMENT, OXIDES
from server.physics.kin_report import rule_words
from server.physics.table import bundle, models, table
from server.web.packed import Packed
from server.web.page import fragment, page

router = APIRouter(include_in_schema=False)
MAIN_OXIDES = ("SiO2", "Na2O", "K2O", "CaO", "MgO", "Al2O3", "Fe2O3", "FeO", "MnO", "P2O5")
QUICK_WORDS = ("natron", "plant-ash", "wood ash", "HLLA", "lead", "modern")
Query200 = Annotated[str, Query(max_length=200)]


def shell_pages() -> list[str]:
    """Pages that change only with the app: the tablet serves them itself."""
    return ["/glass/new", "/glass/compare", "/glass/models", "/glass/kinds", "/glass/models.json", "/glass/catalogue.json"]


def bundled_pages() -> list[str]:
    """The catalogue's pages, which travel to the tablet in one answer (pages_json)."""
    return [glass.link for glass in catalog.glasses().values()]


def fallback_pages() -> list[str]:
    """Pages with the desk's own data: fetched first, kept as a fallback."""
    return ["/glass", "/glass/names.json", "/glass/own.json", "/glass/accuracy"]


def _own(request: Request) -> list[Glass]:
    """Own glasses; none for a guest, since their texts tell of finds."""
    if request.scope.get("isokom.role") == "guest":
        return []
    with request.app.state.store.read() as session:
        return own.all_glasses(session)


def _found(request: Request, query: str) -> list[Glass]:
    """Own glasses first, then the catalogue, that match the query."""
    return [glass for glass in _own(request) if catalog.matches(glass.words, query)] + catalog.search(query)


@router.get("/glass")
def index(request: Request, q: Query200 = "") -> HTMLResponse:
    """All glasses, with the range of each as a bar."""
    return page(request, "glass/index.html", place="glasses", glasses=_found(request, q), q=q, quick=QUICK_WORDS, view=view)


@router.get("/frag/glasses")
def rows(request: Request, q: Query200 = "") -> HTMLResponse:
    """The rows that match what is being typed."""
    return fragment(request, "glass/_rows.html", glasses=_found(request, q), q=q, view=view)


@router.get("/glass/models.json")
def models_json() -> JSONResponse:
    """Every model, rule and count: the one source that the page's own evaluator reads."""
    return JSONResponse(bundle(), headers={"Cache-Control": "no-cache"})


@router.get("/glass/catalogue.json")
def catalogue_json() -> JSONResponse:
    """The catalogue as the tablet needs it to choose and compare."""
    return JSONResponse([view.summary(glass) for glass in catalog.glasses().values()], headers={"Cache-Control": "no-cache"})


@router.get("/glass/pages.json")
def pages_json(request: Request) -> Response:
    """Every catalogue page by its address, for the tablet's own copy."""
    return CATALOGUE_PAGES.answer(request, "no-cache")


@router.get("/glass/own.json")
def own_json(request: Request) -> JSONResponse:
    """The desk's own glasses in the same form."""
    made = [view.summary(glass) for glass in _own(request)]
    return JSONResponse(made, headers={"Cache-Control": "no-cache"})


@router.get("/glass/names.json")
def names_json(request: Request) -> JSONResponse:
    """Key, name and family of every glass, own ones first."""
    found = _found(request, "")
    names = [{"key": g.key.removeprefix("own/"), "name": g.name, "family": g.family} for g in found]
    return JSONResponse(names, headers={"Cache-Control": "no-cache"})


@router.get("/glass/new")
def new(request: Request) -> HTMLResponse:
    """Type an analysis; the page estimates it itself, with or without the desk."""
    context = {"main_oxides": MAIN_OXIDES, "oxides": OXIDES, "elements": tuple(OXIDE_OF_ELEMENT), "methods": methods().values()}
    return page(request, "glass/new.html", place="glasses", **context)


@router.get("/glass/compare")
def compare(request: Request) -> HTMLResponse:
    """Up to six glasses on one curve picture and one picture of bars."""
    return page(request, "glass/compare.html", place="glasses")


@router.get("/glass/models")
def models_page(request: Request) -> HTMLResponse:
    """Where the numbers come from: every model, its source, bounds and record, and the rules that combine them."""
    context = {"models": models(), "rules": table("rules"), "accuracy": table("accuracy"), "view": view, "properties": properties}
    return page(request, "glass/models.html", place="glasses", **context)


@router.get("/glass/accuracy")
def accuracy_page(request: Request) -> HTMLResponse:
    """What the estimates were worth on measured glasses, as pictures and tables."""
    context = {"summary": record.summary(), "pictures": record.pictures(), "notes": record.notes(), "size": record.SIZE}
    return page(request, "glass/accuracy.html", place="glasses", **context)


@router.get("/glass/kinds")
def kinds(request: Request) -> HTMLResponse:
    """What "consistent with" means: every rule with its limits, source and how it is known."""
    return page(request, "glass/kinds.html", place="glasses", rules=table("kin"), rule_words=rule_words)


@router.get("/glass/own/{glass_id}")
def show_own(request: Request, glass_id: str) -> HTMLResponse:
    """One of the user's own glasses. Raises Missing."""
    with request.app.state.store.read() as session:
        glass = own.find(session, glass_id)
    return _show(request, glass)


@router.get("/glass/{key}")
def show(request: Request, key: str) -> HTMLResponse:
    """One catalogue glass. Raises Missing."""
    return _show(request, catalog.find(key))


def _show(request: Request | None, glass: Glass) -> HTMLResponse:
    context = {
        "glass": glass,
        "made": glass.report,
        "view": view,
        "recipe": recipe,
        "verdicts": view.verdict_rows(glass.report),
        "properties": properties.rows(glass.report),
        "kin": kin_of(glass),
        "neighbours": neighbours.nearest(glass.report),
    }
    return page(request, "glass/show.html", place="glasses", **context)


CATALOGUE_PAGES = Packed(lambda: {glass.link: _show(None, glass).body.decode() for glass in catalog.glasses().values()})
