"""Pages of finds and pieces (drawn by the tablet from merged entries), and what only the desk can give: photos, labels, the ledger as a table."""

from typing import Annotated

from fastapi import APIRouter, Query, Request
from fastapi.responses import HTMLResponse, JSONResponse, Response

from server.find import labels as made
from server.find import log, table
from server.web.page import download, page, version

router = APIRouter(include_in_schema=False)
FindId = Annotated[str, Query(max_length=36)]


def shell_pages() -> list[str]:
    """Pages that hold no server data: served from the tablet first."""
    return ["/finds", "/finds/find", "/finds/piece"]


def fallback_pages() -> list[str]:
    """Pages fetched first, kept as a fallback."""
    return ["/finds/log.json"]


@router.get("/finds")
def index(request: Request) -> HTMLResponse:
    """All finds, and the way to a piece by the code on its label."""
    return page(request, "find/index.html", place="finds")


@router.get("/finds/find")
def find(request: Request) -> HTMLResponse:
    """One find: facts, consent, pieces."""
    return page(request, "find/find.html", place="finds")


@router.get("/finds/piece")
def piece(request: Request) -> HTMLResponse:
    """One piece: what is left, its ledger, photos."""
    return page(request, "find/piece.html", place="finds")


@router.get("/finds/log.json")
def log_json(request: Request) -> Response:
    """All entries of finds and pieces, photos without their picture; 304 when nothing has arrived since."""
    with request.app.state.store.read() as session:
        headers = {"ETag": f'"{version()}-{log.last_entry(session)}"', "Cache-Control": "no-cache"}
        if request.headers.get("if-none-match", "").removeprefix("W/") == headers["ETag"]:
            return Response(status_code=304, headers=headers)
        return JSONResponse({"entries": log.entries(session)}, headers=headers)


@router.get("/finds/photo/{entry_id}")
def photo(request: Request, entry_id: str) -> Response:
    """A photo; its address names one entry, so it never changes. Raises Missing."""
    with request.app.state.store.read() as session:
        picture = log.photo(session, entry_id)
    return Response(picture, media_type="image/jpeg", headers={"Cache-Control": "private, max-age=31536000, immutable"})


@router.get("/finds/ledger.csv")
def ledger_csv(request: Request) -> Response:
    """One row for each act on a piece."""
    with request.app.state.store.read() as session:
        text = table.as_csv(log.finds(session))
    return download(text, "isokom-ledger.csv")


@router.get("/finds/labels")
def labels(request: Request, find: FindId) -> HTMLResponse:
    """Labels to print. Raises Missing."""
    base = str(request.base_url).rstrip("/")
    with request.app.state.store.read() as session:
        found, drawn = made.labels(log.finds(session), find, base)
    return page(request, "find/labels.html", place="finds", find=found, labels=drawn, base=base)
