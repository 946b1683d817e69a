"""Finding out whether the database can serve, by writing into it and reading from it."""

import secrets
import time
from threading import Lock

from sqlalchemy import Connection, Engine, delete, insert, select

from app.store.errors import Unavailable
from app.store.tables import content, document, revision, secret
from app.store.transaction import transaction

HELD_S = 1.0  # anybody may ask, and no crowd of them shall keep the disk busy
# On SQLite more pages than an edit takes, by which the file must grow, so that a full disk shows. PostgreSQL's own
# log shows it with the first byte, and every row written leaves something to clear away.
WRITTEN_BYTES = {"sqlite": 60_000, "postgresql": 16}


class Probe:
    """Writes and reads; ``trouble`` does so at most once a second, and who asks meanwhile hears what was found."""

    def __init__(self, writer: Engine) -> None:
        self._writer = writer
        self._lock = Lock()
        self._asked_s = -HELD_S
        self._found: Unavailable | None = None

    def trouble(self) -> Unavailable | None:
        """Why the database can't serve; None if it can."""
        with self._lock:
            if time.monotonic() - self._asked_s >= HELD_S:
                self._found = self.look()
                self._asked_s = time.monotonic()
            return self._found

    def look(self) -> Unavailable | None:
        """Why the database can't serve, found now."""
        try:
            with transaction(self._writer, counted=False) as connection:
                _read(connection)
                _write(connection)
        except Unavailable as trouble:
            return trouble
        return None


def _read(connection: Connection) -> None:
    if connection.dialect.name == "sqlite":
        connection.exec_driver_sql("PRAGMA shrink_memory")  # the file is asked, not what is remembered of it
    current = select(content.c.packed).join_from(revision, content).join(document, document.c.head_id == revision.c.id)
    connection.execute(current.order_by(document.c.updated_at.desc()).limit(1)).all()


def _write(connection: Connection) -> None:
    # Gone again before the transaction ends: nothing of it is ever seen, but its pages are written.
    size = WRITTEN_BYTES[connection.dialect.name]
    name = f"probe-{secrets.token_hex(8)}"
    connection.execute(insert(secret), {"name": name, "value": secrets.token_bytes(size)})
    connection.execute(delete(secret).where(secret.c.name == name))
