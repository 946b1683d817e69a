"""Hearing of changes that other processes made: PostgreSQL tells by NOTIFY, SQLite has to be asked.

PostgreSQL also carries previews from process to process. SQLite has no way to, short of writing them into the file.
"""

import logging
from threading import Event, Thread
from typing import TYPE_CHECKING

from app.store.changes import GONE, Changes, Pins
from app.store.errors import Unavailable
from app.store.preview import read
from app.store.relay import PREVIEW_CHANNEL, Relay, connect
from app.store.statements import CHANNEL, PINS_CHANNEL
from app.store.store import Store

if TYPE_CHECKING:
    import psycopg

POLL_S = 0.05
STOP_CHECK_S = 0.25
FIRST_WAIT_S = 0.1
LONGEST_WAIT_S = 5.0

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
        for document_id, count in self._store.pin_counts(*followed).items():
            self._changes.tell(document_id, Pins(count))


class Poller(Watcher):
    """Asks after the followed documents twenty times a second, and nothing while none is followed."""

    def _run(self) -> None:
        while not self._stop.wait(POLL_S):
            try:
                self._catch_up()
            except Unavailable as error:
                log.warning("cannot look for changes, trying again: %s", error)


class Listener(Watcher):
    """Listens to PostgreSQL; connects again, ever more patiently, when the server goes away.

    Beside it runs a ``Relay``, which takes this process's previews to the others.
    """

    def __init__(self, store: Store, changes: Changes) -> None:
        self._relay = Relay(store.engine)
        changes.pass_previews_to(self._relay.pass_on)
        super().__init__(store, changes)

    def close(self) -> None:
        """Stop, and wait for both threads."""
        super().close()
        self._relay.close()

    def _run(self) -> None:
        import psycopg  # here, because it is only installed with PostgreSQL support

        self._wait_s = FIRST_WAIT_S
        while not self._stop.is_set():
            try:
                with connect(self._store.engine) as connection:
                    self._listen(connection)
            except (psycopg.Error, Unavailable) as error:
                log.warning("not hearing of changes, connecting again in %.1f s: %s", self._wait_s, error)
                self._stop.wait(self._wait_s)
                self._wait_s = min(2 * self._wait_s, LONGEST_WAIT_S)

    def _listen(self, connection: "psycopg.Connection") -> None:
        for channel in (CHANNEL, PINS_CHANNEL, PREVIEW_CHANNEL):
            connection.execute(f"LISTEN {channel}")
        self._wait_s = FIRST_WAIT_S
        self._catch_up()  # what was written while nobody listened
        while not self._stop.is_set():
            for note in connection.notifies(timeout=STOP_CHECK_S):
                self._hear(note.channel, note.payload)

    def _hear(self, channel: str, payload: str) -> None:
        if channel == PREVIEW_CHANNEL:
            message = read(payload)
            if message is not None and message.sender != self._changes.sender:
                self._changes.tell(message.document_id, message.preview)
            return
        document_id, _, number = payload.rpartition(":")
        if number.isdigit():  # anybody may notify on a channel
            self._changes.tell(document_id, int(number) if channel == CHANNEL else Pins(int(number)))


def watch(store: Store, changes: Changes) -> Watcher:
    """Start publishing the changes that other processes make in the store's database."""
    kind = Listener if store.engine.dialect.name == "postgresql" else Poller
    return kind(store, changes)
