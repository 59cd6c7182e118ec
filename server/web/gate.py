"""ASGI: asks for each request whether it is let in, and as whom. Who decides is handed over by the app; this module knows the web, and no passes."""

from collections.abc import Callable
from dataclasses import dataclass
from ipaddress import ip_address
from typing import Protocol

from anyio.to_thread import run_sync
from fastapi import Request
from starlette.datastructures import MutableHeaders
from starlette.responses import Response

from server.web.door import LAN, door_of
from server.web.failure import answer, wants_json

COOKIE = "__Host-isokom-pass"
KEPT_S = 400 * 24 * 3600  # browsers keep no cookie for longer
READS = {"GET", "HEAD", "OPTIONS"}


@dataclass(frozen=True)
class Asked:
    """What a decision rests on. `token`: from the cookie, or from Authorization (then is_bearer)."""

    door: str
    method: str
    path: str
    token: str
    is_bearer: bool


@dataclass(frozen=True)
class Decision:
    """Let in as `role`, or turned away with a status. `renew`: give the cookie anew."""

    role: str
    status: int = 200
    code: str = ""
    message: str = ""
    device: str = ""
    renew: bool = False


def cookie_line(token: str) -> str:
    """Set-Cookie for a pass (RFC 6265bis: __Host- needs Secure, Path=/ and no Domain)."""
    return f"{COOKIE}={token}; Max-Age={KEPT_S}; Path=/; Secure; HttpOnly; SameSite=Strict"


def token_of(request: Request) -> tuple[str, bool]:
    """(token, whether it came as a bearer's)."""
    scheme, _, bearer = request.headers.get("authorization", "").partition(" ")
    if scheme.lower() == "bearer":
        return bearer.strip()[:200], True
    return request.cookies.get(COOKIE, "")[:200], False


def is_own_name(host: str, names: list[str]) -> bool:
    """Whether a Host header names this very machine. A number always does: only a name can be made to point here by somebody else (DNS rebinding)."""
    name = host.rsplit(":", 1)[0] if not host.endswith("]") and host.count(":") <= 1 or "]:" in host else host
    name = name.strip("[]").lower().rstrip(".")
    try:
        ip_address(name)
    except ValueError:
        return name in ("localhost", *names)
    return True


class Decides(Protocol):
    """Who decides; at_once needs no book and answers None where one is needed."""

    def __call__(self, asked: Asked) -> Decision: ...

    def at_once(self, asked: Asked) -> Decision | None: ...


class Gate:
    """Turns away what may not come in; tells the routes who asks (scope["isokom.role"], scope["isokom.device"])."""

    def __init__(self, app, decide: Decides, own_names: Callable[[], list[str]], host: str, stranger: Callable[[Request, Decision], Response]):
        self.app, self.decide, self.own_names, self.host, self.stranger = app, decide, own_names, host, stranger

    async def __call__(self, scope, receive, send) -> None:
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        request = Request(scope)
        if not is_own_name(request.headers.get("host", ""), self.own_names()):
            await answer(request, 421, "other_host", "This desk is not known under that name. Open the address that it shows.")(scope, receive, send)
            return
        token, is_bearer = token_of(request)
        door = door_of(scope, self.host)
        asked = Asked(door, request.method, request.url.path, token, is_bearer)
        told = self.decide.at_once(asked) or await run_sync(self.decide, asked)
        if told.status == 200 and door == LAN and request.method not in READS and not is_bearer and not _says_where_from(request):
            told = Decision(told.role, 403, "other_site", "Only Isokom's own pages may write here.")
        if told.status != 200:
            await self._away(request, told)(scope, receive, send)
            return
        inner = {**scope, "isokom.role": told.role, "isokom.device": told.device}
        await self.app(inner, receive, self._renewing(send, token) if told.renew else send)

    def _away(self, request: Request, told: Decision) -> Response:
        """The answer to what is turned away; a person at a page is told how to join."""
        if told.status == 401 and request.method in READS and not wants_json(request) and not request.headers.get("HX-Request"):
            return self.stranger(request, told)
        return answer(request, told.status, told.code, told.message)

    @staticmethod
    def _renewing(send, token: str):
        async def send_with_cookie(message) -> None:
            if message["type"] == "http.response.start":
                MutableHeaders(scope=message).append("set-cookie", cookie_line(token))
            await send(message)

        return send_with_cookie


def _says_where_from(request: Request) -> bool:
    """A browser says of every write where it comes from (Fetch Standard: Origin on all but GET and HEAD); what it says is checked elsewhere. Nobody who says nothing writes with a cookie."""
    return bool(request.headers.get("origin") or request.headers.get("sec-fetch-site"))
