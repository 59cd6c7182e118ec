"""The page of what was said differently on machines that had not heard of each other."""

from datetime import UTC, datetime

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse

from server.device import log as devices
from server.settle import log
from server.web.page import page

router = APIRouter(include_in_schema=False)


def shell_pages() -> list[str]:
    """Pages that hold no server data: served from the tablet first."""
    return []


def fallback_pages() -> list[str]:
    """Pages fetched first, kept as a fallback."""
    return ["/differences"]


def moment(at_ms: int) -> str:
    """A moment in UTC, as a person reads it."""
    return f"{datetime.fromtimestamp(at_ms / 1000, UTC):%d %B %Y, %H:%M} UTC"


@router.get("/differences")
def differences(request: Request) -> HTMLResponse:
    """Every difference with both sides, and a button on each."""
    with request.app.state.store.read() as session:
        found = log.differences(session)
        names = {one["device"]: one["name"] for one in devices.latest(session) if one["name"]}
    return page(request, "settle/differences.html", place="", differences=found, moment=moment, names=names)
