"""Putting the application together."""

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager

from fastapi import FastAPI
from fastapi.staticfiles import StaticFiles

from app import __version__
from app.assess import load_knowledge
from app.shipped import folder
from app.store import Changes, Store, watch
from app.web import (
    admission,
    api,
    comparing,
    files,
    follow,
    health,
    live,
    site,
    steps,
    unreadable,
    validation,
    whatifs,
)
from app.web.desk import Desk
from app.web.ending import told_of_the_end
from app.web.hosts import KnownHosts
from app.web.limits import TimeLimit
from app.web.pages import Pages
from app.web.problems import Refusals
from app.web.ready import ReadyPictures
from app.web.samples import show_samples
from app.web.security import Guard, StrictHeaders
from app.web.settings import Settings
from app.web.soon import solver_soon
from app.web.writes import CountWrites

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
        watcher = watch(store, changes)
        app.state.desk = Desk(store, knowledge, pages, samples, changes=changes)
        app.state.admission = admission.open_admission(settings, store)
        with solver_soon(), told_of_the_end(changes.close):
            yield
        changes.close()
        watcher.close()
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
    app.include_router(site.router)  # first, so that the first page doesn't wait until the others' routes are made out
    app.include_router(api.router)
    app.include_router(live.router)
    app.include_router(whatifs.router)
    app.include_router(follow.router)
    app.include_router(steps.router)
    app.include_router(admission.api)
    app.include_router(health.router)
    app.include_router(files.router)
    app.include_router(validation.router)
    app.include_router(comparing.router)
    app.include_router(unreadable.router)
    app.include_router(steps.pages)
    app.include_router(follow.pages)
    app.include_router(admission.pages)
    app.mount("/static", StaticFiles(directory=folder("static")), name="static")
    # The last one added is asked first.
    app.add_middleware(ReadyPictures)
    app.add_middleware(Guard, refuse=refusals.answer)
    app.add_middleware(TimeLimit, refuse=refusals.answer)
    app.add_middleware(admission.Gate, refuse=refusals.answer, pages=pages)
    app.add_middleware(KnownHosts, refuse=refusals.answer, names=settings.hosts, anywhere=settings.phrase is not None)
    app.add_middleware(StrictHeaders)
    app.add_middleware(CountWrites)
    return app
