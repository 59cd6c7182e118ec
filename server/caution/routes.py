"""The page of all cautions, with who read them when."""

from datetime import UTC, datetime

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse

from server.caution import caution
from server.web.page import page

router = APIRouter(include_in_schema=False)
SHOWN = 200


def shell_pages() -> list[str]:
    """None: the readings are the desk's."""
    return []


def fallback_pages() -> list[str]:
    """Fetched first, kept as a fallback."""
    return ["/cautions"]


@router.get("/cautions")
def cautions_page(request: Request) -> HTMLResponse:
    """All cautions, and when they were read on which tablet."""
    with request.app.state.store.read() as session:
        reads = caution.reads(session)
    told = [(datetime.fromtimestamp(r["at_ms"] / 1000, UTC).strftime("%Y-%m-%d %H:%M"), r["body"], r["device"][-6:]) for r in reads[:SHOWN]]
    return page(request, "caution/cautions.html", place="", texts=caution.texts(), reads=told)
