"""Putting the application together."""

import asyncio
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager

from fastapi import FastAPI
from fastapi.staticfiles import StaticFiles

from app import __version__
from app.assess import load_knowledge
from app.beside import Beside
from app.shipped import folder
from app.store import Changes, Store, Upkeep, watch
from app.web.access.gate import Gate, open_access
from app.web.access.places import FOLLOWERS_SHARE, LINES_SHARE, Places
from app.web.http import health
from app.web.http.errors import Refusals
from app.web.http.failures import LogFailures
from app.web.http.fair_turns import FairTurns
from app.web.http.head import HeadAsGet
from app.web.http.headers import Guard, StrictHeaders
from app.web.http.hosts import KnownHosts
from app.web.http.ready_pictures import ReadyPictures
from app.web.http.shutdown import shutdown_announced
from app.web.http.timeouts import TimeLimit
from app.web.http.warm_up import warm_up
from app.web.http.writes import CountWrites
from app.web.panels.samples import show_samples
from app.web.routes import (
    cases,
    compare,
    downloads,
    events,
    layout_map,
    live,
    plan,
    signin,
    steps,
    unreadable,
    validation,
    whatifs,
)
from app.web.routes import pages as other_pages
from app.web.settings import Settings
from app.web.state import ServerState, map_desk
from app.web.templates import Pages

ABOUT = "Sketch a plate-and-screw construct for a fractured long-bone shaft. Not a medical device."


def create_app(settings: Settings) -> FastAPI:
    """The server's application; faulty tables and sample cases are found here, the database is opened at start.

    Raises:
        CatalogueError: the user's own stock or thresholds are faulty.
    """
    knowledge = load_knowledge(settings.stock, settings.thresholds)
    pages, samples = Pages(), show_samples(knowledge)

    @asynccontextmanager
    async def lifespan(app: FastAPI) -> AsyncIterator[None]:
        changes = Changes()
        store = Store(settings.url, changes.publish)
        watcher, upkeep = watch(store, changes), Upkeep(store, settings.thin_after_days)
        app.state.server = ServerState(
            store,
            knowledge,
            pages,
            samples,
            Beside(map_desk, knowledge),
            changes=changes,
            following=Places(int(settings.connections * FOLLOWERS_SHARE)),
            lines=Places(int(settings.connections * LINES_SHARE)),
        )
        app.state.access = open_access(settings, store)
        looking_out = asyncio.create_task(app.state.access.look_out())
        with warm_up(), shutdown_announced(changes.close):
            yield
        looking_out.cancel()
        app.state.server.maps.close()
        changes.close()
        watcher.close()
        upkeep.close()
        store.close()

    app = FastAPI(
        title="Fishplate",
        version=__version__,
        description=ABOUT,
        docs_url=None,
        redoc_url=None,
        openapi_url="/api/v1/openapi.json",
        lifespan=lifespan,
    )
    refusals = Refusals(pages)
    refusals.register(app)
    for router in (
        other_pages.first,  # by itself, so that the first page doesn't wait until the others' routes are made out
        other_pages.router,
        cases.router,
        live.router,
        whatifs.router,
        events.router,
        steps.router,
        signin.api,
        health.router,
        downloads.router,
        validation.router,
        compare.router,
        unreadable.router,
        plan.router,
        layout_map.api,
        layout_map.router,
        events.pages,
        signin.pages,
    ):
        app.include_router(router)
    app.mount("/static", StaticFiles(directory=folder("static")), name="static")
    # The last one added is asked first.
    app.add_middleware(HeadAsGet)
    app.add_middleware(FairTurns, refuse=refusals.answer)
    app.add_middleware(ReadyPictures)
    app.add_middleware(Guard, refuse=refusals.answer)
    app.add_middleware(TimeLimit, refuse=refusals.answer)
    app.add_middleware(Gate, refuse=refusals.answer, pages=pages)
    app.add_middleware(KnownHosts, refuse=refusals.answer, names=settings.hosts, anywhere=settings.phrase is not None)
    app.add_middleware(StrictHeaders)
    app.add_middleware(CountWrites)
    app.add_middleware(LogFailures)
    if settings.proxies:
        from uvicorn.middleware.proxy_headers import ProxyHeadersMiddleware  # most servers have no use for it

        app.add_middleware(ProxyHeadersMiddleware, trusted_hosts=list(settings.proxies))
    return app
