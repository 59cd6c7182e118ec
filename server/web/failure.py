"""One answer shape for every failure: RFC 9457 problem details, or a page that says what happened and what was kept."""

import logging
from urllib.parse import quote

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse, Response
from starlette.exceptions import HTTPException

from server.errors import BadComposition, Differs, Failure, Missing, OutOfBounds, Refused, Unavailable
from server.web.page import page

log = logging.getLogger("isokom")

STATUS = {Missing: 404, BadComposition: 422, OutOfBounds: 422, Refused: 422, Differs: 409, Unavailable: 503}
TITLES = {
    401: "Not known here yet",
    403: "Not allowed",
    404: "Not here",
    405: "Not possible here",
    409: "Two versions of one entry",
    413: "Too much at once",
    422: "Cannot be taken as it stands",
    421: "Another name",
    429: "Too many tries",
    503: "The bench book cannot be written now",
}


def status_of(error: Failure) -> int:
    """HTTP status of a failure class."""
    return next((code for cls, code in STATUS.items() if isinstance(error, cls)), 500)


def wants_json(request: Request) -> bool:
    """True for the tablet's own requests, which read problem details."""
    path = request.url.path
    return path.startswith("/sync/") or path.endswith(".json") or "application/json" in request.headers.get("accept", "")


def answer(request: Request, status: int, code: str, message: str, details: dict | None = None) -> Response:
    """The failure as problem details or as a page."""
    log.warning("failure status=%s code=%s path=%s", status, code, quote(request.url.path))  # as it came: nobody writes lines of their own into the log
    title = TITLES.get(status, "Something went wrong")
    if wants_json(request):
        body = {"title": title, "status": status, "detail": message, "code": code, **(details or {})}
        return JSONResponse(body, status_code=status, media_type="application/problem+json")
    if request.headers.get("HX-Request"):
        return page(request, "web/_failure.html", status, title=title, message=message)
    return page(request, "web/failure.html", status, title=title, message=message, place="")


def _on_failure(request: Request, error: Failure) -> Response:
    return answer(request, status_of(error), error.code, error.message, error.details)


def _on_invalid(request: Request, error: RequestValidationError) -> Response:
    """Names the place and the reason, never echoes what was sent (a NaN there would break the answer)."""
    places = [{"field": ".".join(str(p) for p in e["loc"]), "reason": e["msg"]} for e in error.errors()][:20]
    first = places[0]
    return answer(request, 422, "invalid", f"{first['field']}: {first['reason']}", {"fields": places})


def _on_http(request: Request, error: HTTPException) -> Response:
    messages = {404: "There is no such page. Nothing was changed.", 413: "That is more than one request may carry. Nothing was changed."}
    return answer(request, error.status_code, f"http_{error.status_code}", messages.get(error.status_code, str(error.detail)))


async def _on_unexpected(request: Request, _error: Exception) -> Response:
    """What nobody thought of; the traceback goes to the log, since it is raised further."""
    return answer(request, 500, "unexpected", "Something went wrong in Isokom itself. What was confirmed is in the bench book, and what waits on a tablet stays there. Try again; the desk's terminal says more.")


def install(app: FastAPI) -> None:
    """Route every failure of the app through answer()."""
    app.add_exception_handler(Failure, _on_failure)
    app.add_exception_handler(RequestValidationError, _on_invalid)
    app.add_exception_handler(HTTPException, _on_http)
    app.add_exception_handler(Exception, _on_unexpected)
