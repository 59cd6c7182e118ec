"""What the times say: profiles of every glass and piece, drawn by the desk."""

from urllib.parse import urlencode

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, Response

from server.finding import words
from server.finding.book import Book
from server.finding.picture import picture
from server.finding.selection import Timed, Wanted, choices, chosen, groups_of
from server.trial import results
from server.web.page import download, page

router = APIRouter(include_in_schema=False)


def shell_pages() -> list[str]:
    """None: all of it is the desk's."""
    return []


def fallback_pages() -> list[str]:
    """Pages fetched first, kept as a fallback."""
    return ["/results/findings"]


def _book(request: Request) -> Book:
    """The one reading of this app."""
    if not hasattr(request.app.state, "findings"):
        request.app.state.findings = Book(request.app.state.store)
    return request.app.state.findings


def _mass(text: str) -> float | None:
    """A mass in g as people write it; None for nothing or no number."""
    try:
        return float(text.strip().replace(",", "."))
    except ValueError:
        return None


def _asked(request: Request) -> Wanted:
    """What the address asks for; what it cannot mean is passed over."""
    given = request.query_params
    by, kind = given.get("by", ""), given.get("kind", "")
    texts = {key: given.get(key, "")[:500] for key in ("session", "torch", "operator", "colour")}
    return Wanted(
        by=by if by in words.BY else "measured", kind=kind if kind in words.KINDS else "",
        least_g=_mass(given.get("least_g", "")), most_g=_mass(given.get("most_g", "")), **texts,
    )  # fmt: skip


def _query(wanted: Wanted) -> str:
    given = {key: value for key, value in vars(wanted).items() if value not in ("", None)}
    return urlencode(given)


def _selected(request: Request) -> tuple[Wanted, list[Timed], list[Timed], dict]:
    """(what is asked for, the rows that fit, all rows, sessions by number)."""
    wanted = _asked(request)
    rows, sessions = _book(request).read()
    return wanted, chosen(rows, wanted), rows, sessions


@router.get("/results/findings")
def findings(request: Request) -> HTMLResponse:
    """Every glass and piece at a glance: raw times, medians, intervals."""
    wanted, rows, every, sessions = _selected(request)
    groups = groups_of(rows, wanted.by)
    more = {"wanted": wanted, "asked": choices(every), "sessions": sessions, "query": _query(wanted), "words": words, "results": results}
    return page(request, "finding/findings.html", place="results", groups=groups, picture=picture(groups), **more)


@router.get("/results/findings.csv")
def findings_csv(request: Request) -> Response:
    """One row a time, with what the picture shows of it."""
    wanted, rows, _every, _sessions = _selected(request)
    return download(words.as_csv(groups_of(rows, wanted.by), wanted.by), "isokom-findings.csv")
