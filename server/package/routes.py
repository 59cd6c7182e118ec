"""The page of the data package, the package itself, and where one is brought in."""

import tempfile
import time
from datetime import UTC, datetime
from pathlib import Path
from typing import Annotated

from fastapi import APIRouter, Body, Query, Request
from fastapi.responses import FileResponse, HTMLResponse
from starlette.background import BackgroundTask

from server.errors import Refused
from server.package.archive import write
from server.package.bring import bring
from server.package.gather import entries, gather
from server.package.reading import file_of, read, rows
from server.package.tables import licence, licences, tables
from server.plan import log as plan
from server.store.log import UUID
from server.web.page import page

PATH = "/results/package"  # a package that is brought in may be larger than any other body
router = APIRouter(include_in_schema=False)
SessionId = Annotated[str, Query(pattern=f"^$|{UUID}")]  # a form sends the empty one for all


def shell_pages() -> list[str]:
    """Pages that hold no server data: served from the tablet first."""
    return []


def fallback_pages() -> list[str]:
    """Pages fetched first, kept as a fallback."""
    return []


def _page(request: Request, status: int = 200, **more) -> HTMLResponse:
    """The page, after bringing in with what became of it."""
    with request.app.state.store.read() as session:
        seen = plan.open_to_all(session)
        made = [entry for entry in plan.entries(session) if entry["kind"] == "plan.made"][::-1]
    sessions = [entry for entry in made if entry["subject"] in seen]
    context = {"tables": tables(), "licences": licences(), "sessions": sessions, "covered": len(made) - len(sessions), "brought": None, "problem": "", **more}
    return page(request, "package/package.html", status, place="results", **context)


@router.get(PATH)
def package(request: Request) -> HTMLResponse:
    """What is in a package, the way to it, and the way back."""
    return _page(request)


@router.get(f"{PATH}.zip")
def package_zip(request: Request, session: SessionId = "", licence_key: Annotated[str, Query(alias="licence", max_length=20)] = "later") -> FileResponse:
    """The bench book, or one session, as a package. Raises Missing and Refused."""
    chosen, created = licence(licence_key), datetime.now(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
    folder = tempfile.TemporaryDirectory(prefix="isokom-package-")
    path = Path(folder.name) / "package.zip"
    try:
        with request.app.state.store.read() as opened, path.open("wb") as file:
            book = gather(opened, session or None)
            write(file, book, entries(opened, book), created, chosen)
    except BaseException:
        folder.cleanup()
        raise
    name = f"isokom-{'session' if session else 'bench-book'}-{created[:10]}.zip"
    return FileResponse(path, media_type="application/zip", filename=name, headers={"Cache-Control": "no-store"}, background=BackgroundTask(folder.cleanup))


@router.post(PATH)
def bring_in(request: Request, body: Annotated[bytes, Body(media_type="multipart/form-data")] = b"") -> HTMLResponse:
    """Take in the entries of a package; the page says what became of them, or why it is none."""
    try:
        table = read(file_of(body, request.headers.get("content-type", "")))
    except Refused as error:
        return _page(request, 422, problem=error.message)
    return _page(request, brought=bring(request.app.state.store, rows(table), int(time.time() * 1000)))
