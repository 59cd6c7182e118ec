"""Where tablets hand in entries, and the page that shows what still waits on this tablet."""

import time

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse

from server.sync.push import Batch, Verdict, push
from server.web.page import page

router = APIRouter()


def shell_pages() -> list[str]:
    """Pages that hold no server data: served from the tablet first."""
    return ["/sync"]


def fallback_pages() -> list[str]:
    """Pages fetched first, kept as a fallback."""
    return []


@router.post("/sync/push")
def push_entries(batch: Batch, request: Request) -> dict[str, list[Verdict]]:
    """Verdict for each entry, given after the one transaction of the batch is on disk. 503 when nothing could be stored."""
    with request.app.state.store.write() as session:
        verdicts = push(session, batch, int(time.time() * 1000))
    return {"verdicts": verdicts}


@router.get("/sync", include_in_schema=False)
def show(request: Request) -> HTMLResponse:
    """What waits on this tablet and what was refused; drawn by the page itself."""
    return page(request, "sync/show.html", place="")
