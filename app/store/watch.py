"""Hearing of changes that other processes made: PostgreSQL tells by NOTIFY, SQLite has to be asked."""

import logging
from threading import Event, Thread
from typing import TYPE_CHECKING, Any

from app.store.changes import GONE, Changes
from app.store.errors import Unavailable
from app.store.statements import CHANNEL
from app.store.store import Store

if TYPE_CHECKING:
    import psycopg

POLL_S = 0.05
STOP_CHECK_S = 0.25
FIRST_WAIT_S = 0.1
LONGEST_WAIT_S = 5.0
# A server that vanishes without a word, as with a pulled cable, is given up after about half a minute.
PATIENCE: dict[str, Any] = {
    "connect_timeout": 5,
    "keepalives_idle": 10,
    "keepalives_interval": 5,
    "keepalives_count": 4,
}

log = logging.getLogger(__name__)


class Watcher:
    """A thread that publishes what other processes write, until closed."""

    def __init__(self, store: Store, changes: Changes) -> None:
        self._store = store
        self._changes = changes
        self._stop = Event()
        self._thread = Thread(target=self._run, name="fishplate-watch", daemon=True)
        self._thread.start()

    def close(self) -> None:
        """Stop, and wait for the thread; close it before the store."""
        self._stop.set()
        self._thread.join()

    def _run(self) -> None:
        raise NotImplementedError

    def _catch_up(self) -> None:
        followed = self._changes.followed()
        if not followed:
            return
        versions = self._store.versions(*followed)
        for document_id in followed:
            self._changes.publish(document_id, versions.get(document_id, GONE))


class Poller(Watcher):
    """Asks for the versions of the followed documents twenty times a second, and nothing while none is followed."""

    def _run(self) -> None:
        while not self._stop.wait(POLL_S):
            try:
                self._catch_up()
            except Unavailable as error:
                log.warning("cannot look for changes, trying again: %s", error)


class Listener(Watcher):
    """Listens to PostgreSQL; connects again, ever more patiently, when the server goes away."""

    def _run(self) -> None:
        import psycopg  # here, because it is only installed with PostgreSQL support

        self._wait_s = FIRST_WAIT_S
        while not self._stop.is_set():
            try:
                # Not one of the store's pooled connections: this one is kept for good, and ends as soon as the server.
                arguments = self._store.engine.dialect.create_connect_args(self._store.engine.url)[1]
                with psycopg.connect(**arguments, **PATIENCE, autocommit=True) as connection:
                    self._listen(connection)
            except (psycopg.Error, Unavailable) as error:
                log.warning("not hearing of changes, connecting again in %.1f s: %s", self._wait_s, error)
                self._stop.wait(self._wait_s)
                self._wait_s = min(2 * self._wait_s, LONGEST_WAIT_S)

    def _listen(self, connection: "psycopg.Connection") -> None:
        connection.execute(f"LISTEN {CHANNEL}")
        self._wait_s = FIRST_WAIT_S
        self._catch_up()  # what was written while nobody listened
        while not self._stop.is_set():
            for note in connection.notifies(timeout=STOP_CHECK_S):
                document_id, _, version = note.payload.rpartition(":")
                if version.isdigit():  # anybody may notify on a channel
                    self._changes.publish(document_id, int(version))


def watch(store: Store, changes: Changes) -> Watcher:
    """Start publishing the changes that other processes make in the store's database."""
    kind = Listener if store.engine.dialect.name == "postgresql" else Poller
    return kind(store, changes)
