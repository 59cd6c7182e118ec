"""The page of safe keeping: backups that there are, one now, and a look whether the book is sound."""

import re

from fastapi import APIRouter, Request
from fastapi.responses import FileResponse, HTMLResponse

from server.errors import Failure, Missing
from server.keeping import backups
from server.keeping.check import check
from server.store.backup import folder_of
from server.web.page import page

router = APIRouter(include_in_schema=False)


def shell_pages() -> list[str]:
    """Pages that hold no server data: served from the tablet first."""
    return []


def fallback_pages() -> list[str]:
    """Pages fetched first, kept as a fallback."""
    return []


def _folder(request: Request):
    settings = request.app.state.settings
    return folder_of(settings.file, settings.backup_folder)


def _page(request: Request, status: int = 200, **more) -> HTMLResponse:
    folder, settings = _folder(request), request.app.state.settings
    found = backups.listed(folder) if settings.is_file else []
    context = {"backups": found, "folder": folder, "book": request.app.state.store.place, "is_file": settings.is_file, "hours": settings.backup_every_hours, "trouble": request.app.state.keeper.problem, "problem": "", "done": "", "checked": None, **more}
    return page(request, "keeping/keeping.html", status, place="", **context)


@router.get("/keeping")
def keeping(request: Request) -> HTMLResponse:
    """What there is."""
    return _page(request)


@router.post("/keeping/backup")
def backup_now(request: Request) -> HTMLResponse:
    """One more."""
    try:
        made = backups.make(backups.only_file(request.app.state.settings), _folder(request))
    except Failure as failure:
        return _page(request, 503, problem=failure.message)
    return _page(request, done=f"{made.entries:,} entries copied, looked at and sound.")


@router.post("/keeping/check")
def check_now(request: Request) -> HTMLResponse:
    """Look whether the book is sound."""
    with request.app.state.store.read() as session:
        return _page(request, checked=check(session))


@router.get("/keeping/backup/{name}")
def backup_file(request: Request, name: str) -> FileResponse:
    """A backup to carry away. Raises Missing."""
    known = {one.path.name: one.path for one in backups.listed(_folder(request))}
    if not re.fullmatch(backups.ANY_NAME, name) or name not in known:
        raise Missing("There is no backup of this name.", code="no_such_backup")
    return FileResponse(known[name], media_type="application/vnd.sqlite3", filename=name, headers={"Cache-Control": "no-store"})
