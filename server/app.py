"""The web application: engine, store, pictures of the record, handlers, the table of addresses."""

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager

from fastapi import FastAPI
from fastapi.staticfiles import StaticFiles

from server import __version__, guard
from server.addresses import add_addresses
from server.database import migrate, open_engine
from server.errors import add_error_pages
from server.measuring import worker
from server.pages import STATIC, Pages
from server.settings import Settings, read_settings
from server.store import Store


def create_app(settings: Settings | None = None) -> FastAPI:
    """Build the application on `settings`; migrates the record first, so a served page never meets an old schema."""
    settings = settings or read_settings()
    settings.data.mkdir(parents=True, exist_ok=True)
    engine = open_engine(settings.database_url)
    migrate(engine)

    @asynccontextmanager
    async def lifespan(app: FastAPI) -> AsyncIterator[None]:
        supervisor = worker.start(settings) if settings.worker else None
        yield
        if supervisor:
            supervisor.stop()
        engine.dispose()

    app = FastAPI(
        title="Layerwitness",
        version=__version__,
        lifespan=lifespan,
        docs_url=None,
        redoc_url=None,
        openapi_url="/api/openapi.json",
    )
    app.state.settings = settings
    app.state.engine = engine
    app.state.store = Store(settings.blob_folder)
    app.state.pages = Pages()
    guard.protect(app, settings)
    add_error_pages(app)
    app.mount("/static", StaticFiles(directory=STATIC), name="static")
    add_addresses(app)
    return app
