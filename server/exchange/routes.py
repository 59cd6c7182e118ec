"""The page of the other machines: exchange over the network, and files for those that never meet."""

import socket
import tempfile
import threading
import time
from pathlib import Path
from typing import Annotated

from fastapi import APIRouter, Body, Request
from fastapi.responses import FileResponse, HTMLResponse
from starlette.background import BackgroundTask

from server.errors import Failure, Refused
from server.exchange import peers, runs
from server.exchange.pack import name_of, pack
from server.exchange.unpack import unpack
from server.package.reading import file_of
from server.settle.log import differences
from server.store.lock import held
from server.web.form import fields
from server.web.page import page

UNPACK = "/exchange/unpack"  # a pack that is taken in may be larger than any other body
router = APIRouter(include_in_schema=False)
_under_way = threading.Lock()
Form = Annotated[bytes, Body(media_type="application/x-www-form-urlencoded")]


def shell_pages() -> list[str]:
    """Pages that hold no server data: served from the tablet first."""
    return []


def fallback_pages() -> list[str]:
    """Pages fetched first, kept as a fallback."""
    return []


def now_ms() -> int:
    return int(time.time() * 1000)


def _machine() -> str:
    return socket.gethostname()[:80] or "a machine without a name"


def _page(request: Request, status: int = 200, **more) -> HTMLResponse:
    """The page, with what was just done."""
    with request.app.state.store.read() as session:
        known = peers.every(session)
        found = [{"id": p.id, "name": p.name, "address": p.address, "last_ms": p.last_ms, "told": p.last_told, "waits": len(peers.progress(session, p.id).refused)} for p in known]
        unsettled = len(differences(session))
    return page(request, "exchange/exchange.html", status, place="", machines=found, unsettled=unsettled, **{"problem": "", "is_partly": False, "done": "", "link": "", **more})


def _exchanged(request: Request, peer_id: str) -> str:
    """One exchange at a time, also of several processes on this machine. Raises Refused while another is under way."""
    folder = request.app.state.settings.file.parent
    folder.mkdir(parents=True, exist_ok=True)
    with held(folder / ".one-exchange") as mine:
        if not mine or not _under_way.acquire(blocking=False):
            raise Refused("An exchange is under way already. Wait until it is through.", code="under_way")
        try:
            return runs.exchange(request.app.state.store, peer_id, now_ms).sentence
        finally:
            _under_way.release()


@router.get("/exchange")
def exchange(request: Request) -> HTMLResponse:
    """The machines that this one exchanges with, the way to join another, and files."""
    return _page(request)


@router.post("/exchange/join")
def join(request: Request, body: Form = b"") -> HTMLResponse:
    """Be let in by another machine, and exchange at once."""
    try:
        peer_id, address = runs.known_or_joined(request.app.state.store, fields(body).get("link", "").strip(), _machine())
        return _page(request, done=f"{address}: {_exchanged(request, peer_id)}")
    except Failure as failure:
        return _page(request, 422, problem=failure.message)


@router.post("/exchange/{peer_id}/run")
def run(request: Request, peer_id: str) -> HTMLResponse:
    """Exchange with one machine."""
    try:
        return _page(request, done=_exchanged(request, peer_id))
    except Failure as failure:
        return _page(request, 422, problem=failure.message)


@router.post("/exchange/{peer_id}/forget")
def forget(request: Request, peer_id: str) -> HTMLResponse:
    """Exchange no more with a machine; what came from it stays."""
    with request.app.state.store.write() as session:
        peers.forget(session, peer_id)
    return _page(request, done="It is forgotten here. What came from it stays.")


@router.post("/exchange/pack")
def pack_file(request: Request, body: Form = b"") -> FileResponse:
    """A pack to save: what is new since the last one, or everything."""
    folder = tempfile.TemporaryDirectory(prefix="isokom-pack-")
    made = pack(request.app.state.store, Path(folder.name), _machine(), now_ms(), everything=fields(body).get("what") == "all")
    headers = {"Cache-Control": "no-store"}
    return FileResponse(made.path, media_type="application/zip", filename=name_of(now_ms(), _machine()), headers=headers, background=BackgroundTask(folder.cleanup))


@router.post(UNPACK)
def unpack_file(request: Request, body: Annotated[bytes, Body(media_type="multipart/form-data")] = b"") -> HTMLResponse:
    """Take in a pack or the file that a tablet saved; the page says what became of it, or why it is none."""
    with tempfile.TemporaryDirectory(prefix="isokom-unpack-") as folder:
        path = Path(folder) / "The file"
        try:
            path.write_bytes(file_of(body, request.headers.get("content-type", "")))
            told = unpack(request.app.state.store, path, now_ms())
            return _page(request, 200, **{"problem" if told.refused else "done": told.sentence}, is_partly=bool(told.stored or told.same))
        except Refused as error:
            return _page(request, 422, problem=error.message)
