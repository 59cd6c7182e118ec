"""Pages of the bench (drawn by the tablet) and of the results (drawn by the desk)."""

from itertools import chain
from typing import Annotated
from urllib.parse import urlencode

from fastapi import APIRouter, Query, Request
from fastapi.responses import HTMLResponse, Response

from server.errors import Missing
from server.plan import log as plan
from server.store.latest import disagree
from server.trial import log, profile, results
from server.trial.timing import does_count, said_of_lanes, trial_from
from server.web.page import download, download_lines, environment, fragment, page

router = APIRouter(include_in_schema=False)
SHOWN = 200
LISTED = 100  # trials of one glass in its table; all of them are in the CSV
GlassKey = Annotated[str | None, Query(max_length=120)]
Before = Annotated[int | None, Query(ge=1, le=2**31 - 1)]
Piece = Annotated[str | None, Query(max_length=80)]


def shell_pages() -> list[str]:
    """Pages that hold no server data: served from the tablet first."""
    return ["/bench", "/bench/new", "/bench/run"]


def fallback_pages() -> list[str]:
    """Pages fetched first, kept as a fallback."""
    return ["/results"]


@router.get("/bench")
def bench(request: Request) -> HTMLResponse:
    """What runs, what was timed on this tablet, and the way to a new trial."""
    return page(request, "trial/bench.html", place="bench")


@router.get("/bench/new")
def new(request: Request) -> HTMLResponse:
    """Choose what is heated."""
    return page(request, "trial/new.html", place="bench")


@router.get("/bench/run")
def run(request: Request) -> HTMLResponse:
    """The clock."""
    return page(request, "trial/run.html", place="bench")


def _shown(request: Request, glass: str | None, before: int | None = None) -> dict:
    """What the list of trials needs: the trials of a glass or of all, and the number of the last entry."""
    with request.app.state.store.read() as session:
        seen = log.last_seq(session)
        trials, earlier = log.newest(session, SHOWN, before, glass or None)
        glasses, pieces = log.glasses(session), log.pieces(session)
        sessions = [entry for entry in plan.entries(session) if entry["kind"] == "plan.made"][::-1]
    return {"earlier": earlier, "before": before, "sessions": sessions if before is None else [], "pieces": pieces, "trials": trials, "seen": seen, "glasses": glasses, "glass": glass or "", "words": results}


@router.get("/results")
def index(request: Request, glass: GlassKey = None, before: Before = None) -> HTMLResponse:
    """Trials as they arrive, newest first; before: the earlier ones, from where a page ended."""
    return page(request, "trial/index.html", place="results", **_shown(request, glass, before))


@router.get("/frag/trials")
def trials_fragment(request: Request, glass: GlassKey = None, seen: Annotated[int, Query(ge=-1)] = -1) -> Response:
    """The list again, or 204 when nothing has arrived since entry `seen`."""
    with request.app.state.store.read() as session:
        if log.last_seq(session) == seen:
            return Response(status_code=204, headers={"Cache-Control": "no-store"})
    return fragment(request, "trial/_trials.html", **_shown(request, glass))


@router.get("/results/trials.csv")
def trials_csv(request: Request, glass: GlassKey = None, piece: Piece = None) -> Response:
    """One row a trial."""
    with request.app.state.store.read() as session:
        lines = log.told(session, results.csv_line, glass or None, piece or None)
    return download_lines(chain([results.csv_heading()], lines), "isokom-trials.csv")


def _profiled(request: Request, glass: str | None, piece: str | None) -> dict:
    """What a profile shows, of a glass or of a piece of a find: trials oldest first. Raises Missing."""
    with request.app.state.store.read() as session:
        trials = log.trials(session, glass_key=glass, piece=piece)[::-1] if glass or piece else []
    if not trials:
        raise Missing("No trial of this has arrived yet.", code="no_such_trial")
    query = urlencode({"piece": piece} if piece else {"glass": glass})
    return {
        "glass_name": piece or trials[-1].setup["glass_name"],
        "own_piece": piece,
        "trials": trials[-LISTED:],
        "all_count": len(trials),
        "lanes": results.lanes_of(trials, piece),
        "picture": profile.picture(trials, piece),
        "picture_link": f"/results/profile.svg?{query}",
        "csv_link": f"/results/trials.csv?{query}",
        "words": results,
    }


@router.get("/results/glass/{key}")
def glass_profile(request: Request, key: str) -> HTMLResponse:
    """The profile of a glass: every time, the medians, and what was left out and why."""
    return page(request, "trial/profile.html", place="results", **_profiled(request, key, None))


@router.get("/results/piece")
def piece_profile(request: Request, piece: Piece = None) -> HTMLResponse:
    """The profile of a piece of a find."""
    return page(request, "trial/profile.html", place="results", **_profiled(request, None, piece))


@router.get("/results/profile.svg")
def profile_svg(request: Request, glass: GlassKey = None, piece: Piece = None) -> Response:
    """The profile picture alone, for a report. Raises Missing."""
    context = _profiled(request, glass, piece)
    if context["picture"] is None:
        raise Missing("No trial of this has a time yet.", code="no_such_trial")
    title = results.profile_sentence(context["glass_name"], context["lanes"])
    svg = environment().get_template("trial/_profile.html").render(picture=context["picture"], title=title, alone=True)
    return download(svg, "isokom-profile.svg", "image/svg+xml")


def _said_of_times(entries: list[dict]) -> dict:
    """For the page of a trial: the statements about each time that a new one comes after, and the times of which nobody has decided between them."""
    told = said_of_lanes(entries)
    latest = {lane: [one["id"] for one in statements] for lane, statements in told.items()}
    return {"latest": latest, "unsettled": [profile.LANE_WORDS[lane] for lane, statements in told.items() if disagree(statements, does_count)]}


@router.get("/results/trial/{trial_id}")
def show(request: Request, trial_id: str) -> HTMLResponse:
    """Every entry of one trial, presses taken back included. Raises Missing."""
    with request.app.state.store.read() as session:
        entries = log.entries_of(session, trial_id)
        trial = log.shown(trial_from(entries), plan.open_to_all(session))
    said = _said_of_times([] if trial.status == "covered" else entries)
    return page(request, "trial/show.html", place="results", trial=trial, entries=[] if trial.status == "covered" else entries, words=results, **said)
