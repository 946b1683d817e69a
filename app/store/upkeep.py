"""What a running server does beside its work: a SQLite library whole in its one file, and old history thinned."""

import logging
import time
from datetime import UTC, datetime, timedelta

from app.store.background import Background
from app.store.engine import log_bytes
from app.store.store import Store
from app.store.thinning import LEAST_DAYS, thin_library

EVERY_S = 5.0
THINNED_EVERY_S = 24 * 3600.0
FIRST_THINNED_S = 600.0  # not while everybody waits for a start

log = logging.getLogger(__name__)


class Upkeep(Background):
    """A thread that empties the write-ahead log when something was written, until closed.

    Whoever copies the database's file alone gets what was written up to a few seconds before; and what was deleted
    while others read leaves the log as well. History older than ``thin_after_days`` is thinned once a day; None: never.
    """

    def __init__(self, store: Store, thin_after_days: int | None = None, every_s: float = EVERY_S) -> None:
        self._store = store
        self._every_s = every_s
        self._thin_after = None if thin_after_days is None else timedelta(days=max(thin_after_days, LEAST_DAYS))
        self._thin_at_s = time.monotonic() + FIRST_THINNED_S
        super().__init__("upkeep")

    def _run(self) -> None:
        while not self._stop.wait(self._every_s):
            try:
                if self._store.untidy or log_bytes(self._store.engine):
                    self._store.tidy()
                if self._thin_after is not None and time.monotonic() >= self._thin_at_s:
                    self._thin_at_s = time.monotonic() + THINNED_EVERY_S
                    gone = thin_library(self._store.engine, datetime.now(UTC) - self._thin_after)
                    self._store.tidy()
                    log.info("%d revisions of long ago were thinned out", gone)
            except Exception:
                log.exception("the library's file is not tidied; trying again")
