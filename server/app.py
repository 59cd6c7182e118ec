"""create_app(settings): the one place that knows every domain."""

from contextlib import asynccontextmanager

from fastapi import FastAPI
from fastapi.responses import RedirectResponse

from server import __version__
from server.caution import caution
from server.caution import routes as caution_routes
from server.find import routes as find_routes
from server.finding import routes as finding_routes
from server.glass import routes as glass_routes
from server.intake import routes as intake_routes
from server.measure import routes as measure_routes
from server.package import routes as package_routes
from server.pair import routes as pair_routes
from server.session import routes as session_routes
from server.settings import Settings
from server.standin import routes as standin_routes
from server.store import migrate
from server.store.engine import Store
from server.sync import routes as sync_routes
from server.trial import routes as trial_routes
from server.web import failure, shell
from server.web.page import environment

DOMAINS = (caution_routes, glass_routes, find_routes, intake_routes, pair_routes, standin_routes, trial_routes, measure_routes, session_routes, finding_routes, sync_routes, package_routes)


def open_store(settings: Settings) -> Store:
    """The bench book, made or brought to this version. Raises Unavailable or NewerDatabase."""
    store = Store(settings.database_url or settings.database)
    if store.path is not None:
        migrate.prepare_folder(store.path)
    migrate.upgrade(store)
    return store


def kept_offline() -> shell.Kept:
    """What each domain wants the tablet to keep."""
    kept = shell.Kept(bundles=["/glass/pages.json"], bundled_pages=glass_routes.bundled_pages())
    for domain in DOMAINS:
        kept.shell_pages += domain.shell_pages()
        kept.fallback_pages += domain.fallback_pages()
    return kept


def create_app(settings: Settings) -> FastAPI:
    """The whole app on one bench book."""
    store = open_store(settings)
    environment().globals["cautions"] = caution.texts()

    @asynccontextmanager
    async def lifespan(_app: FastAPI):
        yield
        store.close()

    app = FastAPI(title="Isokom", version=__version__, lifespan=lifespan, docs_url=None, redoc_url=None)
    app.state.store = store
    failure.install(app)
    for domain in DOMAINS:
        app.include_router(domain.router)

    @app.get("/", include_in_schema=False)
    def home() -> RedirectResponse:
        return RedirectResponse("/glass")

    shell.install(app, kept_offline(), settings.max_body_bytes, {package_routes.PATH: settings.max_package_bytes})
    return app
