"""create_app(settings): the one place that knows every domain."""

from contextlib import asynccontextmanager

from fastapi import FastAPI
from fastapi.responses import RedirectResponse

from server import __version__
from server.access import routes as access_routes
from server.access.decide import Gatekeeper
from server.caution import caution
from server.caution import routes as caution_routes
from server.device import routes as device_routes
from server.exchange import routes as exchange_routes
from server.find import routes as find_routes
from server.finding import routes as finding_routes
from server.glass import routes as glass_routes
from server.intake import routes as intake_routes
from server.keeping import routes as keeping_routes
from server.keeping.backups import Keeper
from server.lan import routes as lan_routes
from server.make import routes as make_routes
from server.measure import routes as measure_routes
from server.package import routes as package_routes
from server.pair import routes as pair_routes
from server.session import routes as session_routes
from server.settings import Settings
from server.settle import routes as settle_routes
from server.standin import routes as standin_routes
from server.store.backup import folder_of
from server.store.opening import open_store
from server.sync import routes as sync_routes
from server.trial import routes as trial_routes
from server.web import failure, shell
from server.web.gate import Gate
from server.web.page import environment

DOMAINS = (caution_routes, glass_routes, find_routes, intake_routes, pair_routes, standin_routes, trial_routes, measure_routes, make_routes, session_routes, finding_routes, sync_routes, lan_routes, access_routes, device_routes, exchange_routes, keeping_routes, settle_routes, package_routes)


def kept_offline() -> shell.Kept:
    """What each domain wants the tablet to keep."""
    kept = shell.Kept(bundles=["/glass/pages.json"], bundled_pages=glass_routes.bundled_pages())
    for domain in DOMAINS:
        kept.shell_pages += domain.shell_pages()
        kept.fallback_pages += domain.fallback_pages()
    return kept


def own_names(app: FastAPI) -> list[str]:
    """Names under which this desk may be opened."""
    return [*app.state.settings.allowed_hosts, *(app.state.lan.names if app.state.lan else [])]


def create_app(settings: Settings) -> FastAPI:
    """The whole app on one bench book."""
    store = open_store(settings)
    environment().globals["cautions"] = caution.texts()

    @asynccontextmanager
    async def lifespan(_app: FastAPI):
        app.state.keeper.start()
        yield
        app.state.keeper.end()
        store.close()

    app = FastAPI(title="Isokom", version=__version__, lifespan=lifespan, docs_url=None, redoc_url=None)
    app.state.store = store
    app.state.settings = settings
    app.state.keeper = Keeper(settings.file, folder_of(settings.file, settings.backup_folder), settings.backup_every_hours if settings.is_file else 0)
    app.state.lan = None  # set by whoever also serves tablets
    app.add_middleware(Gate, decide=Gatekeeper(store), own_names=lambda: own_names(app), host=settings.host, stranger=access_routes.stranger)
    failure.install(app)
    for domain in DOMAINS:
        app.include_router(domain.router)

    @app.get("/", include_in_schema=False)
    def home() -> RedirectResponse:
        return RedirectResponse("/glass")

    shell.install(app, kept_offline(), settings.max_body_bytes, {path: settings.max_package_bytes for path in (package_routes.PATH, exchange_routes.UNPACK)})
    return app


def create_help_app(app: FastAPI) -> FastAPI:
    """The plain page that explains how to trust the certificate of app.state.lan."""
    return lan_routes.help_app(app)
