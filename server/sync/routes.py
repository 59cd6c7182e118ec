"""Where tablets hand in entries, and the page that shows what still waits on this tablet."""

import time
from typing import Annotated

from fastapi import APIRouter, Depends, Query, Request
from fastapi.responses import HTMLResponse, Response
from pydantic import BaseModel, Field

from server.errors import Refused
from server.sync import feed
from server.sync.digest import FIELD, OF_ANSWERS, digest_of, fits
from server.sync.feed import LARGEST, Mark
from server.sync.push import Batch, Verdict, push
from server.web.page import page

router = APIRouter()


def shell_pages() -> list[str]:
    """Pages that hold no server data: served from the tablet first."""
    return ["/sync"]


def fallback_pages() -> list[str]:
    """Pages fetched first, kept as a fallback."""
    return []


class Pushed(BaseModel):
    """Verdict for each entry, the place of the book after them, and whether the sender's place is known here."""

    verdicts: list[Verdict]
    head: Mark
    known: bool


class Place(BaseModel):
    """Whether a place is known here, and the last one there is."""

    known: bool
    head: Mark


async def whole(request: Request) -> None:
    """Raises Refused where the body is not the one that was sent; nothing of it is looked at then."""
    field = request.headers.get(FIELD)
    if field and not fits(field, await request.body()):
        raise Refused("What arrived is not what was sent: something on the way changed it. Nothing of it was stored; send it again.", code="digest")


def told(text: str) -> Response:
    """A JSON answer that can be checked."""
    return Response(text, media_type="application/json", headers={OF_ANSWERS: digest_of(text.encode()), "Cache-Control": "no-store"})


@router.post("/sync/push", response_model=Pushed, dependencies=[Depends(whole)])
def push_entries(batch: Batch, request: Request) -> Response:
    """Given after the one transaction of the batch is on disk. 503 when nothing could be stored.

    Nothing of anybody else comes between the entries of a batch: the last `stored` numbers up to `head` are theirs.
    """
    with request.app.state.store.write() as session:
        known = batch.after is None or feed.knows(session, batch.after)
        verdicts = push(session, batch, int(time.time() * 1000))
        head = feed.head(session)
    return told(Pushed(verdicts=verdicts, head=head, known=known).model_dump_json())


@router.get("/sync/mark.json")
def mark(request: Request, place: Annotated[Mark, Query()]) -> Place:
    """Whether this book has been at a place (seq, id, received_ms)."""
    with request.app.state.store.read() as session:
        return Place(known=feed.knows(session, place), head=feed.head(session))


class FeedQuery(Mark):
    """Entries after a place, up to number `until`."""

    until: int = Field(default=LARGEST, ge=0, le=LARGEST)


@router.get("/sync/feed.json")
def read_feed(request: Request, asked: Annotated[FeedQuery, Query()]) -> Response:
    """{entries, next, more}: what arrived after a place, in order, photos included; about 700 kB at most unless one entry alone is larger. 409 `unknown_mark` where the book was set back."""
    with request.app.state.store.read() as session:
        entries, last, more = feed.page(session, Mark(**asked.model_dump(exclude={"until"})), asked.until)
    return told(f'{{"entries": [{",".join(entries)}], "next": {last.model_dump_json()}, "more": {"true" if more else "false"}}}')


@router.get("/sync", include_in_schema=False)
def show(request: Request) -> HTMLResponse:
    """What waits on this tablet and what was refused; drawn by the page itself."""
    return page(request, "sync/show.html", place="")
