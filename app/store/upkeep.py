"""What a running server does beside its work: all of a SQLite library in its one file soon after every write."""

import logging
from threading import Event, Thread

from app.store.engine import log_bytes
from app.store.store import Store

EVERY_S = 5.0

log = logging.getLogger(__name__)


class Upkeep:
    """A thread that empties the write-ahead log when something was written, until closed.

    Whoever copies the database's file alone gets what was written up to a few seconds before; and what was deleted
    while others read leaves the log as well.
    """

    def __init__(self, store: Store, every_s: float = EVERY_S) -> None:
        self._store = store
        self._every_s = every_s
        self._stop = Event()
        self._thread = Thread(target=self._run, name="fishplate-upkeep", daemon=True)
        self._thread.start()

    def close(self) -> None:
        """Stop, and wait for the thread; close it before the store."""
        self._stop.set()
        self._thread.join()

    def _run(self) -> None:
        while not self._stop.wait(self._every_s):
            try:
                if self._store.untidy or log_bytes(self._store.engine):
                    self._store.tidy()
            except Exception:
                log.exception("the library's file is not tidied; trying again")
