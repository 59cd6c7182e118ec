"""What the times say: profiles of every glass and piece, drawn by the desk."""

from dataclasses import replace
from urllib.parse import urlencode

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, Response

from server.finding import data, log, say, words
from server.finding.book import Book, Reading
from server.finding.drawing import control_picture, evidence_picture, foreseen_picture, ratio_picture
from server.finding.evidence import gathered, softening
from server.finding.foreseen import Foreseen, foreseen
from server.finding.likeness import all_pairs, comparable, corrected_verdicts, likeness, margin_of
from server.finding.picture import picture
from server.finding.report import Report, against_reference, sources_of
from server.finding.scatter import Control, control, reference_key, scatter
from server.finding.selection import Group, Timed, Wanted, by_session
from server.finding.unknown import told
from server.glass.view import fit_versions
from server.physics.agreement import agreement
from server.trial import results
from server.web.page import download_lines, page

router = APIRouter(include_in_schema=False)


def shell_pages() -> list[str]:
    """None: all of it is the desk's."""
    return []


def fallback_pages() -> list[str]:
    """Pages fetched first, kept as a fallback."""
    return ["/results/findings"]


def _book(request: Request) -> Book:
    """The one book of this app and its store."""
    kept = getattr(request.app.state, "findings", None)
    if kept is None or kept.store is not request.app.state.store:
        kept = request.app.state.findings = Book(request.app.state.store)
    return kept


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


def _groups(request: Request, wanted: Wanted) -> tuple[Reading, list[Group]]:
    """(the book as it is now, the groups that are asked for)."""
    book = _book(request)
    reading = book.read()
    return reading, book.groups(reading, wanted)


@router.get("/results/findings")
def findings(request: Request) -> HTMLResponse:
    """Every glass and piece at a glance: raw times, medians, intervals."""
    wanted = _asked(request)
    reading, groups = _groups(request, wanted)
    more = {"wanted": wanted, "asked": reading.choices, "sessions": reading.sessions, "query": _query(wanted), "words": words, "say": say, "results": results}
    return page(request, "finding/findings.html", place="results", groups=groups, picture=picture(groups), **more)


@router.get("/results/findings.csv")
def findings_csv(request: Request) -> Response:
    """One row a time, with what the picture shows of it."""
    wanted = _asked(request)
    return download_lines(words.csv_lines(_groups(request, wanted)[1], wanted.by), "isokom-findings.csv")


def _lane(request: Request) -> str:
    given = request.query_params.get("lane", "sag")
    return given if given in words.LANE_WORDS else "sag"


def _context(request: Request) -> tuple[dict, Reading, list[Group], str]:
    """What every page of findings needs: the filter's answers, the reading, the groups and the lane."""
    wanted = _asked(request)
    if wanted.by == "steady":  # for looking only: no interval here would hold the correction's own error
        wanted = replace(wanted, by="measured")
    lane, (reading, groups) = _lane(request), _groups(request, wanted)
    context = {"wanted": wanted, "asked": reading.choices, "sessions": reading.sessions, "query": _query(wanted), "lane": lane, "words": words, "say": say, "data": data, "results": results}
    return context, reading, groups, lane


def _percent(request: Request) -> float | None:
    """A margin typed for the whole table, in per cent from 1 to 100."""
    value = _mass(request.query_params.get("percent", ""))
    return value if value is not None and 1 <= value <= 100 else None


@router.get("/results/compare")
def compare(request: Request) -> HTMLResponse:
    """Two glasses or pieces set side by side, or all of them in a table."""
    context, reading, groups, lane = _context(request)
    by_key = {group.key: group for group in groups}
    first, second = (by_key.get(request.query_params.get(name, "")) for name in ("first", "second"))
    found, percent = None, _percent(request)
    if first and second and first is not second:
        with request.app.state.store.read() as session:
            said = log.margins(session)
        found = likeness(first, second, lane, margin_of(first, second, lane, reading.sessions, said, reading.ended), context["wanted"].by)
    able = comparable(groups, lane)
    named = able[: say.MOST_GROUPS]
    pairs = {(pair.first, pair.second): pair for pair in all_pairs(named, lane, percent)} if percent and not found else {}
    more = {"groups": groups, "named": named, "dropped": (len(able) - len(named), len(groups) - len(able)), "number_of": {group.key: i for i, group in enumerate(named, 1)}, "first": first, "second": second, "found": found, "pairs": pairs, "percent": percent, "picture": ratio_picture(found) if found else None}
    return page(request, "finding/compare.html", place="results", **context, **more)


def _controls(context: dict, groups: list[Group], lane: str) -> tuple[list[Control], int]:
    """(the reference runs of the newest flame sessions that have them, how many earlier ones there are)."""
    rows = by_session([row for group in groups for row in group.rows])
    plans = {number: entry["body"] for number, entry in context["sessions"].items() if number in rows and entry["body"]["test"] == "flame"}
    found = [one for number, plan in plans.items() if (one := control(number, plan, rows[number], lane, context["wanted"].by))]
    return found[-say.MOST_SESSIONS :], max(0, len(found) - say.MOST_SESSIONS)


@router.get("/results/scatter")
def scatter_page(request: Request) -> HTMLResponse:
    """Between pieces against within a piece, and whether the torch drifted."""
    context, _reading, groups, lane = _context(request)
    controls, earlier = _controls(context, groups, lane)
    more = {"groups": groups, "found": scatter(groups, lane), "picture": picture(groups), "controls": [(one, control_picture(one)) for one in controls], "earlier": earlier}
    return page(request, "finding/scatter.html", place="results", **context, **more)


def _key(group: Group) -> str:
    """The glass that a group is, or that its piece was taken for."""
    return group.rows[-1].glass_key


@router.get("/results/unknown")
def unknown(request: Request) -> HTMLResponse:
    """How much later or sooner a piece softens in the flame than a reference, and whether the other lines of evidence agree."""
    context, reading, groups, _lane = _context(request)
    by_key = {group.key: group for group in groups}
    piece, reference, second = (by_key.get(request.query_params.get(name, "")) for name in ("piece", "reference", "second"))
    found, evidence, ready = None, None, piece and reference and piece is not reference
    if ready:
        with request.app.state.store.read() as session:
            own_key = _key(piece) if piece.is_find else ""
            evidence = gathered(session, piece.label, own_key, _key(reference))
            soft = softening(session, _key(reference))
            other = (second, softening(session, _key(second))) if second and second not in (piece, reference) else None
        of_them = [row for group in (piece, reference, second) if group for row in group.rows]
        found = told(piece, reference, other, soft, reading.holders(of_them), evidence.kelvin)
    more = {"groups": groups, "piece": piece, "reference": reference, "second": second, "found": found, "evidence": evidence, "soft": soft if ready else None}
    if found:
        shrinks = agreement(evidence.expansion) if evidence.expansion else None
        pictures = {"kelvin": evidence_picture(found.lines, found.together, "K", 20.0), "shrinks": evidence_picture(evidence.expansion, shrinks, "× 10⁻⁷/K", 5.0)}
        more |= {**pictures, "shrinks_together": shrinks}
    return page(request, "finding/unknown.html", place="results", **context, **more)


def _foreseen(request: Request, sessions: dict[str, dict], rows: list[Timed]) -> list[Foreseen]:
    """Every closed or open flame session with a reference, as it would have been foreseen."""
    with request.app.state.store.read() as session:
        found = {key: softening(session, key) for key in {row.glass_key for row in rows if row.glass_key}}
    estimates = {key: estimate for key, estimate in found.items() if estimate}
    made, by_number = [], by_session(rows)
    for number, entry in sessions.items():
        own, key = by_number.get(number, []), reference_key(entry["body"])
        if own and key and entry["body"]["test"] == "flame":
            made.append(foreseen(number, [row for row in own if row.group == key], [row for row in own if row.group != key], estimates))
    return made


@router.get("/results/foreseen")
def foreseen_page(request: Request) -> HTMLResponse:
    """What the analysis foresaw of trials that are over, beside what the stopwatch said."""
    context, _reading, groups, lane = _context(request)
    found = _foreseen(request, context["sessions"], [row for group in groups for row in group.rows])
    return page(request, "finding/foreseen.html", place="results", found=found, picture=foreseen_picture(found, lane), **context)


@router.get("/results/report")
def report(request: Request) -> HTMLResponse:
    """A session, or all that fits, as a page to print: methods, table, pictures, sources, cautions."""
    context, reading, groups, lane = _context(request)
    wanted = context["wanted"]
    rows = [row for group in groups for row in group.rows]
    with request.app.state.store.read() as session:
        likenesses = against_reference(groups, context["sessions"], wanted.session, lane, log.margins(session), reading.ended, wanted.by)
        sources, models = sources_of(session, groups)
    controls, earlier = _controls(context, groups, lane)
    made = Report(groups, likenesses, controls, _foreseen(request, context["sessions"], rows), sources, models)
    plan = context["sessions"].get(wanted.session, {}).get("body") if rows else None  # a covered session tells nothing, not even its name
    more = {"made": made, "verdicts": corrected_verdicts(likenesses), "plan": plan, "picture": picture(groups), "drawn_all": [control_picture(one) for one in controls], "earlier": earlier, "versions": fit_versions()}
    return page(request, "finding/report.html", place="results", **context, **more)
