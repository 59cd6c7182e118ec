"""Pages of a session: the plan and the queue of dishes (drawn by the tablet), and how it went (drawn by the desk)."""

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, JSONResponse
from sqlmodel import Session

from server.measure import log as measure_log
from server.measure import words as measure_words
from server.measure.kinds import LETTERS, known_tests
from server.measure.lanes import plain
from server.measure.reckon import reckoned
from server.measure.shape import Result
from server.plan import log as plan
from server.plan.said import CONDITION_LABELS
from server.session.pooled import pooled
from server.session.queue import RunResult, session_from
from server.session.tested import state_of_tests
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
    """Every entry of every session, and how their tests stand, for other tablets: who lays out the dishes reads the list on a screen of their own."""
    with request.app.state.store.read() as session:
        return JSONResponse({"entries": plan.entries(session), "tests": state_of_tests(session)}, headers={"Cache-Control": "no-cache"})


def _came_to(session: Session, runs: list[RunResult]) -> list[tuple[RunResult, Result]]:
    """What each kept test came to, with the first of its runs: a board holds many."""
    once = {run.measured.id: run for run in reversed(runs) if run.measured and run.state == "kept"}
    return [(run, reckoned(session, run.measured)) for run in reversed(once.values())]


@router.get("/results/session/{session_id}")
def session_result(request: Request, session_id: str) -> HTMLResponse:
    """A session: its order, what became of each dish, and whether the reference drifted. Raises Missing."""
    with request.app.state.store.read() as session:
        entries = plan.entries_of(session, session_id)
        newest = {test["id"]: test["newest"] for test in state_of_tests(session)}
        made = session_from(entries, trial_log.of_session(session, session_id), measure_log.of_session(session, session_id), newest)
        came_to = _came_to(session, made.runs)
    by_glass = [] if made.plan["test"] in ("flame", "fuse") else pooled([(run.code, run.name, run.is_reference, result) for run, result in came_to])
    more = {"words": results, "measured_words": measure_words, "tests": known_tests(), "letters": LETTERS, "plain": plain, "labels": CONDITION_LABELS}
    return page(request, "session/result.html", place="results", made=made, came_to=came_to, by_glass=by_glass, **more)
