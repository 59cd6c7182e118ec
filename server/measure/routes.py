"""Pages of the measured tests: drawn by the tablet at the bench, by the desk among the results."""

import base64
from typing import Annotated

from fastapi import APIRouter, Path, Query, Request
from fastapi.responses import HTMLResponse, Response
from jinja2.utils import htmlsafe_json_dumps

from server.errors import Missing
from server.measure import log, words
from server.measure.entry import LETTERS
from server.measure.kinds import known_tests
from server.measure.lanes import as_csv, picture
from server.measure.reckon import foreseen, reckoned
from server.plan import log as plan
from server.web.page import download, fragment, page

router = APIRouter(include_in_schema=False)
TestId = Annotated[str, Path(max_length=36)]
Seen = Annotated[int, Query(ge=-1)]
NOTHING_NEW = {"status_code": 204, "headers": {"Cache-Control": "no-store"}}


def shell_pages() -> list[str]:
    """Pages that hold no server data: served from the tablet first."""
    return ["/bench/measure", *(f"/bench/{test}" for test in known_tests())]


def fallback_pages() -> list[str]:
    """Pages fetched first, kept as a fallback."""
    return ["/results/measures"]


@router.get("/bench/measure")
def measure(request: Request) -> HTMLResponse:
    """Choose one of the four tests; those on this tablet stand below."""
    return page(request, "measure/measure.html", place="bench", kinds=known_tests())


def _bench(request: Request, test: str) -> HTMLResponse:
    kind = known_tests()[test]
    asked = htmlsafe_json_dumps({"test": test, **kind}, sort_keys=False)  # the order of the file is the order of the page
    return page(request, f"measure/{test}.html", place="bench", test=test, kind=kind, asked=asked)


@router.get("/bench/pull")
def pull(request: Request) -> HTMLResponse:
    """A rod of chips, measured before and after it is pulled."""
    return _bench(request, "pull")


@router.get("/bench/thread")
def thread(request: Request) -> HTMLResponse:
    """A thread of two glasses, and its bow."""
    return _bench(request, "thread")


@router.get("/bench/fuse")
def fuse(request: Request) -> HTMLResponse:
    """Chips on a board, before and after one firing."""
    return _bench(request, "fuse")


@router.get("/bench/strip")
def strip(request: Request) -> HTMLResponse:
    """Strips of known glasses on a piece, between polarisers."""
    return _bench(request, "strip")


def _shown(request: Request, test_id: str) -> dict:
    """What the result's fragment and the desk's page need. Raises Missing."""
    with request.app.state.store.read() as session:
        entries = log.entries_of(session, test_id)
        measured = log.shown(log.measured_from(entries), plan.open_to_all(session))
        is_covered = measured.status == "covered"
        made = None if is_covered else reckoned(session, measured)
        more = {"seen": log.last_seq(session, test_id), "forecast": foreseen(session, measured), "gaps": words.mass_gaps(measured)}
    return {"measured": measured, "entries": [] if is_covered else entries, "made": made, "picture": picture(made) if made else None, "data": as_csv(made) if made else "", "words": words, "kinds": known_tests(), "letters": LETTERS, **more}


@router.get("/frag/measure/{test_id}")
def answer(request: Request, test_id: TestId) -> HTMLResponse:
    """The desk's result, for the tablet's page. Raises Missing."""
    return fragment(request, "measure/_result.html", **_shown(request, test_id))


def _listed(request: Request) -> dict:
    """What the list of tests needs."""
    with request.app.state.store.read() as session:
        return {"seen": log.last_seq(session), "found": log.all_measured(session), "words": words, "kinds": known_tests()}


@router.get("/results/measures")
def index(request: Request) -> HTMLResponse:
    """Measured tests as they arrive, newest first."""
    return page(request, "measure/index.html", place="results", **_listed(request))


@router.get("/frag/measures")
def measures_fragment(request: Request, seen: Seen = -1) -> Response:
    """The list again, or 204 when nothing has arrived since entry `seen`."""
    with request.app.state.store.read() as session:
        if log.last_seq(session) == seen:
            return Response(**NOTHING_NEW)
    return fragment(request, "measure/_measures.html", **_listed(request))


@router.get("/results/measures.csv")
def measures_csv(request: Request) -> Response:
    """One row a reading."""
    with request.app.state.store.read() as session:
        text = words.as_csv(log.all_measured(session))
    return download(text, "isokom-measured.csv")


@router.get("/results/measure/{test_id}")
def show(request: Request, test_id: TestId) -> HTMLResponse:
    """One test: the result, its readings, and every entry. Raises Missing."""
    return page(request, "measure/show.html", place="results", **_shown(request, test_id))


@router.get("/frag/measured/{test_id}")
def show_fragment(request: Request, test_id: TestId, seen: Seen = -1) -> Response:
    """The test again, or 204 when nothing of it has arrived since entry `seen`. Raises Missing."""
    with request.app.state.store.read() as session:
        if log.last_seq(session, test_id) == seen:
            return Response(**NOTHING_NEW)
    return fragment(request, "measure/_show.html", **_shown(request, test_id))


@router.get("/results/measure/{test_id}/photo/{entry_id}.jpg")
def photo(request: Request, test_id: TestId, entry_id: Annotated[str, Path(max_length=36)]) -> Response:
    """One photo of a test. Raises Missing."""
    with request.app.state.store.read() as session:
        entries = log.entries_of(session, test_id)
        is_covered = log.shown(log.measured_from(entries), plan.open_to_all(session)).status == "covered"
        found = [] if is_covered else [e for e in entries if e["id"] == entry_id and e["kind"] == "measure.photo"]
    if not found:
        raise Missing("There is no such photo.", code="no_such_photo")
    headers = {"Cache-Control": "private, max-age=31536000, immutable"}
    return Response(base64.b64decode(found[0]["body"]["jpeg"]), media_type="image/jpeg", headers=headers)
