"""The offline shell: service worker, manifest, versioned static files, health, and the headers every answer carries."""

import json
from dataclasses import dataclass, field
from pathlib import Path
from urllib.parse import urlsplit

from fastapi import FastAPI, Request
from fastapi.responses import FileResponse, JSONResponse, Response
from fastapi.staticfiles import StaticFiles
from sqlalchemy import text
from starlette.datastructures import MutableHeaders
from starlette.exceptions import HTTPException
from starlette.middleware.gzip import GZipMiddleware

from server import __version__
from server.errors import Unavailable
from server.web.failure import answer
from server.web.packed import Packed
from server.web.page import STATIC, asset, page, version

POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data: blob:; connect-src 'self'; "
    "manifest-src 'self'; worker-src 'self'; font-src 'self'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'"
)
HEADERS = {
    "Content-Security-Policy": POLICY,
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
}
NOT_KEPT_OFFLINE = ("web/worker.js",)  # PNG icons are not kept either: only installing asks for them


FOR_EVER = "public, max-age=31536000, immutable"


class Immutable(StaticFiles):
    """Static files whose address names their content: cached for ever by browsers, and read once here, since a page asks for dozens of them."""

    read: dict[str, tuple[bytes, str]] = {}  # address below the version -> content and its type

    async def get_response(self, path, scope):
        if path in self.read and scope["method"] == "GET":
            content, media_type = self.read[path]
            response = Response(content, media_type=media_type)
        else:
            response = await super().get_response(path, scope)
            if isinstance(response, FileResponse):
                self.read[path] = (Path(response.path).read_bytes(), response.media_type)
        response.headers["Cache-Control"] = FOR_EVER
        return response


def assets() -> dict[str, str]:
    """Every static file that the tablet keeps, by its address."""
    names = sorted(str(p.relative_to(STATIC)) for p in STATIC.rglob("*") if p.suffix in {".js", ".css", ".svg"})
    return {asset(name): (STATIC / name).read_text(encoding="utf-8") for name in names if name not in NOT_KEPT_OFFLINE}


ASSETS = Packed(assets)


@dataclass
class Kept:
    """Addresses that the tablet keeps: served by itself, fetched first, or unpacked from bundles {address: page}."""

    shell_pages: list[str] = field(default_factory=lambda: ["/offline"])
    fallback_pages: list[str] = field(default_factory=list)
    bundles: list[str] = field(default_factory=list)
    bundled_pages: list[str] = field(default_factory=list)


def worker_script(kept: Kept) -> str:
    """The worker with its version, assets and pages written in front."""
    shell = {
        "version": version(),
        "pages": kept.shell_pages,
        "bundles": [*kept.bundles, asset("all.json")],
        "bundled": kept.bundled_pages,
        "fallbacks": kept.fallback_pages,
    }
    return f"const SHELL = {json.dumps(shell)};\n{(STATIC / 'web/worker.js').read_text()}"


def manifest() -> dict:
    """Web app manifest."""
    icons = [
        {"src": asset(f"icons/isokom-{size}.png"), "sizes": f"{size}x{size}", "type": "image/png", "purpose": purpose}
        for size, purpose in ((192, "any"), (512, "any"), (512, "maskable"))
    ]
    return {
        "id": "/",
        "name": "Isokom",
        "short_name": "Isokom",
        "description": "Bench book for working ancient glass",
        "start_url": "/bench",
        "scope": "/",
        "display": "standalone",
        "background_color": "#f6f4ee",
        "theme_color": "#f6f4ee",
        "icons": icons,
    }


def same_origin(request: Request) -> bool:
    """False for a write that another site's page sends."""
    origin = request.headers.get("origin")
    if origin and urlsplit(origin).netloc != request.headers.get("host"):
        return False
    return request.headers.get("sec-fetch-site", "same-origin") in {"same-origin", "none"}


class Guard:
    """ASGI: refuse writes from other sites and bodies too large; put the security headers on every answer."""

    def __init__(self, app, max_body_bytes: int, larger: dict[str, int]):
        self.app = app
        self.max_body_bytes = max_body_bytes
        self.larger = larger

    async def __call__(self, scope, receive, send) -> None:
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return

        async def send_guarded(message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in HEADERS.items():
                    headers.setdefault(name, value)
            await send(message)

        request = Request(scope)
        handler = self.refusal(request) or self.app
        await handler(scope, self.counted(receive, self.larger.get(scope["path"], self.max_body_bytes)), send_guarded)

    def counted(self, receive, most: int):
        """The body, cut off where it grows too large without having said its length."""
        total = 0

        async def receive_counted():
            nonlocal total
            message = await receive()
            total += len(message.get("body", b""))
            if total > most:
                raise HTTPException(413)
            return message

        return receive_counted

    def refusal(self, request: Request) -> Response | None:
        """The answer to a request that is turned away at the door."""
        if request.method not in {"GET", "HEAD", "OPTIONS"} and not same_origin(request):
            return answer(request, 403, "other_site", "Only Isokom's own pages may write here.")
        return None


def _can_be_read(store) -> bool:
    """Whether the bench book answers."""
    try:
        with store.read() as session:
            session.execute(text("SELECT 1"))
    except Unavailable:
        return False
    return True


def install(app: FastAPI, kept: Kept, max_body_bytes: int, larger: dict[str, int]) -> None:
    """Add the shell's routes and middleware to the app. larger: paths whose body may be larger than any other."""
    script = worker_script(kept)

    @app.get("/sw.js", include_in_schema=False)
    def worker() -> Response:
        headers = {"Cache-Control": "no-cache", "Service-Worker-Allowed": "/"}
        return Response(script, media_type="text/javascript", headers=headers)

    @app.get("/manifest.webmanifest", include_in_schema=False)
    def manifest_file() -> JSONResponse:
        return JSONResponse(manifest(), media_type="application/manifest+json", headers={"Cache-Control": "no-cache"})

    @app.get("/offline", include_in_schema=False)
    def offline(request: Request) -> Response:
        return page(request, "web/offline.html", place="")

    @app.get("/health")
    def health(request: Request) -> JSONResponse:
        """`ok`: whether the bench book can be read, 503 where it cannot; `address`: where tablets open this desk, "" while it serves none."""
        lan = getattr(request.app.state, "lan", None)
        is_read = _can_be_read(request.app.state.store)
        told = {"ok": is_read, "version": __version__, "shell": version(), "address": lan.address if lan else ""}
        return JSONResponse(told, 200 if is_read else 503, headers={"Cache-Control": "no-store"})

    @app.get(asset("all.json"), include_in_schema=False)
    def all_assets(request: Request) -> Response:
        return ASSETS.answer(request, FOR_EVER)

    app.mount(f"/static/{version()}", Immutable(directory=STATIC), name="static")
    app.add_middleware(Guard, max_body_bytes=max_body_bytes, larger=larger)
    app.add_middleware(GZipMiddleware, minimum_size=600)
