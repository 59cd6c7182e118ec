"""The devices that were let in, the codes for new ones, and the page where a device joins."""

import time
from typing import Annotated

from fastapi import APIRouter, Body, Request
from fastapi.responses import HTMLResponse, JSONResponse, Response
from pydantic import BaseModel, ConfigDict, Field
from sqlmodel import Session

from server.access import codes, passes
from server.access.rights import BENCH
from server.device import log as selftests
from server.errors import Refused
from server.web.failure import answer
from server.web.form import fields
from server.web.gate import Decision, cookie_line, token_of
from server.web.page import page
from server.web.square import square_code

router = APIRouter(include_in_schema=False)
Form = Annotated[bytes, Body(media_type="application/x-www-form-urlencoded")]


def shell_pages() -> list[str]:
    """Pages that hold no server data: served from the tablet first."""
    return ["/join"]


def fallback_pages() -> list[str]:
    """Pages fetched first, kept as a fallback."""
    return []


class Joining(BaseModel):
    """What a device says of itself."""

    model_config = ConfigDict(strict=True, extra="forbid")

    code: str = Field(min_length=1, max_length=60)
    name: str = Field(max_length=200)
    kind: str = Field(default="device", pattern="^(device|server)$")


def now_ms() -> int:
    return int(time.time() * 1000)


def _own_pass(request: Request, session: Session) -> passes.Known | None:
    """The pass that whoever asks came with; None at the desk itself."""
    token, _is_bearer = token_of(request)
    found = passes.known(session, token) if token else None
    return None if found is None or found.is_revoked else found


def _page(request: Request, status: int = 200, **more) -> HTMLResponse:
    with request.app.state.store.read() as session:
        own = _own_pass(request, session)
        found = [{"id": p.id, "is_own": own is not None and p.id == own.id, "name": p.name, "kind": p.kind, "role": p.role, "made_ms": p.made_ms, "seen_ms": p.seen_ms, "revoked_ms": p.revoked_ms} for p in passes.every(session)]
        tested = selftests.latest(session)
    return page(request, "access/devices.html", status, place="", devices=found, tested=tested, lan=request.app.state.lan, **{"shown": None, "problem": "", **more})


@router.get("/devices")
def devices(request: Request) -> HTMLResponse:
    """Who was let in, and the way to let in another."""
    return _page(request)


@router.post("/devices/invite")
def invite(request: Request, body: Form = b"") -> HTMLResponse:
    """Show a code, once."""
    said, lan = fields(body), request.app.state.lan
    role = said.get("role", BENCH)
    with request.app.state.store.write() as session:
        code = passes.invite(session, role, now_ms())
    link = f"{lan.address}/join#c={code}" + (f"&f={lan.fingerprint}" if lan.fingerprint else "") if lan else ""
    answer_page = _page(request, shown={"code": codes.grouped(code), "role": role, "link": link, "picture": square_code(link) if link else None})
    answer_page.headers["Cache-Control"] = "no-store"
    return answer_page


@router.post("/devices/{pass_id}/name")
def rename(request: Request, pass_id: str, body: Form = b"") -> HTMLResponse:
    """Call a device something else."""
    try:
        with request.app.state.store.write() as session:
            passes.rename(session, pass_id, fields(body).get("name", ""))
    except Refused as error:
        return _page(request, 422, problem=error.message)
    return _page(request)


@router.post("/devices/{pass_id}/revoke")
def revoke(request: Request, pass_id: str) -> HTMLResponse:
    """Take a pass back."""
    with request.app.state.store.write() as session:
        own = _own_pass(request, session)
        if own and own.id == pass_id:
            problem = "This is the device in your hand: turned away, it could not even say so. Turn it away at the desk, or from another one."
        else:
            problem = ""
            passes.revoke(session, pass_id, now_ms())
    return _page(request, 422 if problem else 200, problem=problem)


@router.get("/join")
def join(request: Request) -> HTMLResponse:
    """Where a new device types its code."""
    return page(request, "access/join.html", place="", code="")


def stranger(request: Request, told: Decision) -> Response:
    """The same page, for whoever opened another one without a pass."""
    made = page(request, "access/join.html", told.status, place="", code=told.code)
    made.headers["Cache-Control"] = "no-store"
    return made


@router.post("/join")
def join_with(request: Request, said: Joining) -> Response:
    """A pass for a code: as a cookie for a device, as a token for another server. 403 for a wrong, used or old code, 429 after too many of them."""
    store, agent = request.app.state.store, "".join(c for c in request.headers.get("user-agent", "") if c.isprintable())
    name = passes.named(said.name)
    try:
        with store.write() as session:
            passes.pause(session, now_ms())
            found = passes.let_in(session, said.code, name, said.kind, agent, now_ms())
            if found is None:
                passes.missed(session, now_ms())
            elif before := _own_pass(request, session):
                passes.revoke(session, before.id, now_ms())  # a device has one pass: that of before would let in whoever found it
    except passes.TooManyTries as error:
        return answer(request, 429, error.code, error.message)
    if found is None:
        return answer(request, 403, "wrong_code", "This code is not, or no longer, good. Codes hold for ten minutes and once: ask for a new one at the desk.")
    token, role = found
    if said.kind == "server":
        return JSONResponse({"token": token, "role": role}, headers={"Cache-Control": "no-store"})
    return JSONResponse({"name": name, "role": role}, headers={"Cache-Control": "no-store", "Set-Cookie": cookie_line(token)})
