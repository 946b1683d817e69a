"""Taking previews to other processes by PostgreSQL's NOTIFY, which writes nothing into any table."""

import logging
from threading import Condition, Thread
from typing import TYPE_CHECKING, Any

from sqlalchemy import Engine

from app.store.preview import Message, written

if TYPE_CHECKING:
    import psycopg

PREVIEW_CHANNEL = "fishplate_preview"
# A server that vanishes without a word, as with a pulled cable, is given up after about half a minute.
PATIENCE: dict[str, Any] = {
    "connect_timeout": 5,
    "keepalives_idle": 10,
    "keepalives_interval": 5,
    "keepalives_count": 4,
    "tcp_user_timeout": 30_000,
}
RETRY_S = 1.0

log = logging.getLogger(__name__)


def connect(engine: Engine) -> "psycopg.Connection":
    """A connection of one's own: not a pooled one, for it is kept for good, and ends as soon as the server."""
    import psycopg  # here, because it is only installed with PostgreSQL support

    arguments = engine.dialect.create_connect_args(engine.url)[1]
    return psycopg.connect(**arguments, **PATIENCE, autocommit=True)


class Relay:
    """A thread that sends the newest preview of each document, as soon as the server takes it. Nobody waits for it."""

    def __init__(self, engine: Engine) -> None:
        self._engine = engine
        self._changed = Condition()
        self._waiting: dict[str, Message] = {}  # the newest by document; one not yet sent stays
        self._stopped = False
        self._thread = Thread(target=self._run, name="fishplate-relay", daemon=True)
        self._thread.start()

    def pass_on(self, message: Message) -> None:
        """Send a preview soon, unless a newer one of the same document comes first; from any thread."""
        with self._changed:
            self._waiting[message.document_id] = message
            self._changed.notify()

    def close(self) -> None:
        """Stop, and wait for the thread."""
        with self._changed:
            self._stopped = True
            self._changed.notify()
        self._thread.join()

    def _next(self) -> Message | None:
        with self._changed:
            self._changed.wait_for(lambda: self._waiting or self._stopped)
            return None if self._stopped else next(iter(self._waiting.values()))

    def _sent(self, message: Message) -> None:
        with self._changed:
            if self._waiting[message.document_id] is message:
                del self._waiting[message.document_id]
            else:  # a newer one came meanwhile; other documents' go first
                self._waiting[message.document_id] = self._waiting.pop(message.document_id)

    def _run(self) -> None:
        import psycopg

        while not self._stopped:
            try:
                self._send()
            except psycopg.Error as error:
                log.warning("previews don't reach other processes, trying again: %s", error)
                with self._changed:
                    self._changed.wait_for(lambda: self._stopped, RETRY_S)

    def _send(self) -> None:
        if self._next() is None:  # whoever shows no previews needs no connection
            return
        with connect(self._engine) as connection:
            while (message := self._next()) is not None:
                connection.execute("SELECT pg_notify(%s, %s)", (PREVIEW_CHANNEL, written(message)))
                self._sent(message)
