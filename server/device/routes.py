"""The page on which a device tries itself. Drawn by the device; what it found travels as an entry like any other."""

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse

from server.web.page import page

router = APIRouter(include_in_schema=False)


def shell_pages() -> list[str]:
    """Pages that hold no server data: served from the tablet first."""
    return ["/device"]


def fallback_pages() -> list[str]:
    """Pages fetched first, kept as a fallback."""
    return []


@router.get("/device")
def device(request: Request) -> HTMLResponse:
    """Every check with its result in words."""
    return page(request, "device/device.html", place="")
