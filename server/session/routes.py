"""Pages of a session: the plan and the queue of dishes (drawn by the tablet), and how it went (drawn by the desk)."""

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, JSONResponse

from server.measure import log as measure_log
from server.measure import words as measure_words
from server.measure.kinds import known_tests
from server.measure.reckon import reckoned
from server.plan import log as plan
from server.session.queue import session_from
from server.trial import log as trial_log
from server.trial import results
from server.web.page import page

router = APIRouter(include_in_schema=False)


def shell_pages() -> list[str]:
    """Pages that hold no server data: served from the tablet first."""
    return ["/bench/plan", "/bench/session"]


def fallback_pages() -> list[str]:
    """Pages fetched first, kept as a fallback."""
    return ["/bench/sessions.json"]


@router.get("/bench/plan")
def plan_page(request: Request) -> HTMLResponse:
    """What a session tries, how often, in which order."""
    return page(request, "session/plan.html", place="bench", tests=known_tests())


@router.get("/bench/session")
def session_page(request: Request) -> HTMLResponse:
    """The dish that comes next."""
    return page(request, "session/session.html", place="bench")


@router.get("/bench/sessions.json")
def sessions_json(request: Request) -> JSONResponse:
    """Every entry of every session, for other tablets: who lays out the dishes reads the list on a screen of their own."""
    with request.app.state.store.read() as session:
        return JSONResponse({"entries": plan.entries(session)}, headers={"Cache-Control": "no-cache"})


@router.get("/results/session/{session_id}")
def session_result(request: Request, session_id: str) -> HTMLResponse:
    """A session: its order, what became of each dish, and whether the reference drifted. Raises Missing."""
    with request.app.state.store.read() as session:
        entries = plan.entries_of(session, session_id)
        tests = measure_log.of_session(session, session_id)
        made = session_from(entries, trial_log.of_session(session, session_id), tests)
        kept = {run.measured.id: run.measured for run in made.runs if run.measured and run.state == "kept"}  # a board holds many dishes
        comes_to = [(measured, reckoned(session, measured).sentence) for measured in kept.values()]
    return page(request, "session/result.html", place="results", made=made, comes_to=comes_to, words=results, measured_words=measure_words, tests=known_tests())
