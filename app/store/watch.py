"""Hearing of changes that other processes made: PostgreSQL tells by NOTIFY, SQLite has to be asked.

PostgreSQL also carries previews from process to process. SQLite has no way to, short of writing them into the file.
"""

import logging
import sqlite3
import time
from typing import TYPE_CHECKING
from urllib.parse import quote

from app.store.background import Background
from app.store.changes import GONE, Changes, Pins
from app.store.errors import Unavailable
from app.store.preview import read
from app.store.relay import PREVIEW_CHANNEL, Relay, connect
from app.store.statements import CHANNEL, PINS_CHANNEL
from app.store.store import Store

if TYPE_CHECKING:
    import psycopg

POLL_S = 0.05
ASK_S = 1.0
STOP_CHECK_S = 0.25
FIRST_WAIT_S = 0.1
LONGEST_WAIT_S = 5.0

log = logging.getLogger(__name__)


class Watcher(Background):
    """A thread that publishes what other processes write, until closed."""

    def __init__(self, store: Store, changes: Changes) -> None:
        self._store = store
        self._changes = changes
        super().__init__("watch")

    def _catch_up(self) -> None:
        followed = self._changes.followed()
        if not followed:
            return
        versions = self._store.versions(*followed)
        counts = self._store.pin_counts(*followed)
        for document_id in followed:
            self._tell(document_id, versions.get(document_id, GONE))
        for document_id, count in counts.items():
            self._tell(document_id, Pins(count))

    def _tell(self, document_id: str, word: int | Pins) -> None:
        self._changes.tell(document_id, word)


class Poller(Watcher):
    """Looks twenty times a second whether anything was written, and asks after the followed documents if so.

    SQLite itself says whether, for a hundredth of what asking costs: ``PRAGMA data_version`` changes when another
    connection commits (https://www.sqlite.org/pragma.html#pragma_data_version). Only what is new wakes a follower, or
    what is new to one of them. Once a second it asks all the same: a file that was moved away says nothing any more.
    """

    def _run(self) -> None:
        self._heard: dict[tuple[str, type], int | Pins] = {}
        self._asked_s = float("-inf")
        self._news: sqlite3.Connection | None = None
        self._data_version: object = None
        wait_s = POLL_S
        while not self._stop.wait(wait_s):
            try:
                if self._is_time():
                    self._catch_up()
                    wait_s = POLL_S
            except Unavailable as error:
                wait_s = min(2 * max(wait_s, FIRST_WAIT_S / 2), LONGEST_WAIT_S)
                log.warning("cannot look for changes, trying again in %.1f s: %s", wait_s, error)
                self._look_anew()
            except Exception:  # whatever it is, those who follow must hear of later changes
                wait_s = LONGEST_WAIT_S
                log.exception("cannot look for changes, trying again in %.1f s", wait_s)
                self._look_anew()
        self._look_anew()

    def _look_anew(self) -> None:
        """Let go of the file: a damaged one that is put right meanwhile would stay as it was read, for everybody."""
        if self._news is not None:
            self._news.close()
        self._news = None

    def _is_time(self) -> bool:
        newcomers = self._changes.newcomers()
        if newcomers:
            self._heard = {key: word for key, word in self._heard.items() if key[0] not in newcomers}
        if not self._changes.followed():
            self._heard.clear()
            return False
        now = time.monotonic()
        written = self._written()
        if not (written or newcomers or now - self._asked_s >= ASK_S):
            return False
        self._asked_s = now
        return True

    def _written(self) -> bool:
        """Whether there may be something new in the database."""
        try:
            if self._news is None:
                address = f"file:{quote(str(self._store.engine.url.database))}?mode=rw"  # never make a missing file
                self._news = sqlite3.connect(address, uri=True, isolation_level=None)
            (version,) = self._news.execute("PRAGMA data_version").fetchone()
        except sqlite3.Error:  # asking will tell what is the matter
            self._look_anew()
            return True
        before, self._data_version = self._data_version, version
        return bool(before != version)

    def _tell(self, document_id: str, word: int | Pins) -> None:
        key = (document_id, type(word))
        if self._heard.get(key) != word:
            super()._tell(document_id, word)
            self._heard[key] = word


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
            except Exception:
                log.exception("not hearing of changes, connecting again in %.1f s", LONGEST_WAIT_S)
                self._stop.wait(LONGEST_WAIT_S)

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
