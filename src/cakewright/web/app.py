"""The application: store, evaluations and routes put together."""

from __future__ import annotations

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from dataclasses import replace

from fastapi import FastAPI

from cakewright.storage.store import open_store
from cakewright.version import __version__
from cakewright.web import api, pages
from cakewright.web.boundary import Boundary
from cakewright.web.desk import Desk
from cakewright.web.guard import Guard
from cakewright.web.problems import add_problems
from cakewright.web.request_log import RequestLog
from cakewright.web.runs import Runs
from cakewright.web.settings import Settings
from cakewright.web.team import Team

__all__ = ["create_app"]


def create_app(settings: Settings) -> FastAPI:
    """The workbench over one store.

    Raises
    ------
    StoreError
        If the store cannot be opened.
    """
    store = open_store(settings.store)
    # Pages outlive a restart of the server: their tokens hang on the store's own secret.
    settings = replace(settings, secret=store.secret())
    runs = Runs(settings.most_samples, press=settings.press, apart=settings.apart)
    desk = Desk(store, runs, settings)

    @asynccontextmanager
    async def lifespan(_: FastAPI) -> AsyncIterator[None]:
        runs.start()
        yield
        desk.tasks.close()
        runs.close()
        store.close()

    app = FastAPI(
        title="Cakewright",
        version=__version__,
        description="Studies of dewatering lines: kept, edited, evaluated and handed out.",
        docs_url=None,
        redoc_url=None,
        openapi_url="/api/openapi.json",
        lifespan=lifespan,
    )
    app.state.desk = desk
    add_problems(app)
    app.include_router(api.router)
    app.include_router(pages.router)
    app.add_middleware(Guard, settings=settings, team=Team(store.engine))
    app.add_middleware(Boundary)
    if settings.request_log:
        app.add_middleware(RequestLog, file=settings.request_log)
    return app
