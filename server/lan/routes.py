"""The page at the desk that lets a tablet find it, the certificate, and the plain help page that explains how to trust it."""

from fastapi import APIRouter, FastAPI, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response
from fastapi.staticfiles import StaticFiles

from server.errors import Missing
from server.lan.certificates import der
from server.web.page import STATIC, page, version
from server.web.square import square_code

router = APIRouter(include_in_schema=False)
CERTIFICATE = "/isokom-ca.crt"
HELP_POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; connect-src 'self' {addresses}; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
)


def shell_pages() -> list[str]:
    """Pages that hold no server data: served from the tablet first."""
    return []


def fallback_pages() -> list[str]:
    """Pages fetched first, kept as a fallback."""
    return []


def _certificate_of(main: FastAPI) -> Response:
    """The authority that tablets trust, as DER. Raises Missing."""
    lan = main.state.lan
    if lan is None or not lan.authority:
        raise Missing("This desk has no certificate of its own making.", code="no_certificate")
    headers = {"Content-Disposition": 'attachment; filename="isokom-ca.crt"', "Cache-Control": "no-store"}
    return Response(der(lan.authority), media_type="application/x-x509-ca-cert", headers=headers)


@router.get("/connect")
def connect(request: Request) -> HTMLResponse:
    """Where tablets come in, or how to let them."""
    lan = request.app.state.lan
    codes = {"help": square_code(lan.help_address) if lan.help_address else None, "tablet": square_code(lan.address)} if lan else {}
    return page(request, "lan/connect.html", place="", lan=lan, codes=codes)


@router.get(CERTIFICATE)
def certificate(request: Request) -> Response:
    """The same for those who come by HTTPS, and for other machines that compare its fingerprint."""
    return _certificate_of(request.app)


def help_app(main: FastAPI) -> FastAPI:
    """A small app of its own, over plain HTTP: how to trust the certificate, and nothing else. It holds no data and takes none.

    No Strict-Transport-Security is ever sent: it would bar a browser from this plain page under the same name.
    """
    app = FastAPI(docs_url=None, redoc_url=None, openapi_url=None)

    @app.middleware("http")
    async def headers(request: Request, call_next):
        lan = main.state.lan
        answer = await call_next(request)
        answer.headers["Content-Security-Policy"] = HELP_POLICY.format(addresses=" ".join([lan.address, *lan.addresses]))
        answer.headers["X-Content-Type-Options"] = "nosniff"
        answer.headers["Referrer-Policy"] = "no-referrer"
        return answer

    @app.get("/")
    def trust(request: Request) -> HTMLResponse:
        lan = main.state.lan
        answer = page(request, "lan/trust.html", lan=lan, code=square_code(lan.address))
        answer.headers["Cache-Control"] = "no-store"
        return answer

    @app.get(CERTIFICATE)
    def help_certificate() -> Response:
        return _certificate_of(main)

    @app.exception_handler(404)
    def elsewhere(_request: Request, _error) -> RedirectResponse:
        return RedirectResponse("/", status_code=302)

    app.mount(f"/static/{version()}", StaticFiles(directory=STATIC), name="static")
    return app
