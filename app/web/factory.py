"""The application from environment variables, so that every worker process builds the same one."""

import gc
import os
import sys
from collections.abc import Mapping
from pathlib import Path

from fastapi import FastAPI

from app.web.access.tokens import UnfitPhrase, fit_phrase
from app.web.application import create_app
from app.web.http.hosts import is_loopback
from app.web.http.parent import end_with_parent
from app.web.settings import Settings, admission_from, listed, thinning_from

HAND_OVER_S = (
    0.001  # a fifth of Python's own: an answer changes threads thrice, and waits so long beside one that works
)


def from_environment(given: Mapping[str, str]) -> Settings:
    """The settings named by ``FISHPLATE_…`` variables; empty ones count as not set.

    Raises:
        UnfitPhrase: the access phrase is too short.
        UnfitSetting: a count is none, or a proxy's address.
        OSError: its file can't be read.
    """
    named = {name.removeprefix("FISHPLATE_"): value for name, value in given.items() if value}
    admission = admission_from(given)
    return Settings(
        data_dir=Path(named.get("DATA", "data")),
        database_url=named.get("DATABASE_URL"),
        stock=_path(named.get("STOCK")),
        thresholds=_path(named.get("THRESHOLDS")),
        phrase=_phrase(named),
        hosts=listed(named.get("HOSTS", "")),
        proxies=tuple(str(one) for one in admission.proxies),
        connections=admission.in_all,
        thin_after_days=thinning_from(given),
    )


def _path(text: str | None) -> Path | None:
    return None if text is None else Path(text)


def _phrase(named: Mapping[str, str]) -> str | None:
    if "PHRASE_FILE" in named:
        return fit_phrase(Path(named["PHRASE_FILE"]).read_text(encoding="utf-8"))
    return fit_phrase(named["PHRASE"]) if "PHRASE" in named else None


def check_listening(host: str, settings: Settings) -> None:
    """Let only a server with an access phrase listen where others can reach it, or go by a name of the network.

    Raises:
        UnfitPhrase: it has none.
    """
    names = [name for name in (host, *settings.hosts) if not is_loopback(name)]
    if names and settings.phrase is None:
        message = (
            f"{names[0]} can be reached by others, so an access phrase is needed: set FISHPLATE_PHRASE, or name a file "
            "that holds it with --phrase-file; without one the server listens on this machine only (--host 127.0.0.1)"
        )
        raise UnfitPhrase(message)


def create() -> FastAPI:
    """The application; what ``uvicorn --factory app.web.factory:create`` starts."""
    end_with_parent()
    app = create_app(from_environment(os.environ))
    gc.freeze()  # what is there now stays; looking it through for garbage would hold up somebody's drag
    gc.enable()  # the command line starts without
    sys.setswitchinterval(HAND_OVER_S)
    return app
