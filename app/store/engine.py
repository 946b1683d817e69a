"""Opening the database: SQLite in a file, or PostgreSQL, chosen by the URL."""

import time
from pathlib import Path
from typing import Any

from sqlalchemy import URL, Connection, Engine, create_engine, event, make_url

from app.store.troubles import FileMovedError

BUSY_TIMEOUT_MS = 5000
WRITES = "fishplate_writes"


def open_engine(url: str) -> Engine:
    """An engine for ``sqlite:///<file>`` or ``postgresql://…``; a missing folder of a SQLite file is made.

    Raises:
        ValueError: neither of the two, or SQLite without a file.
    """
    parsed = make_url(url)
    if parsed.get_backend_name() == "sqlite":
        return _open_sqlite(parsed)
    if parsed.drivername in ("postgresql", "postgresql+psycopg"):
        # Asking before use costs one round trip and spares the first callers after a restart of the server an error.
        return create_engine(parsed.set(drivername="postgresql+psycopg"), pool_pre_ping=True)
    message = f"the database must be sqlite:///<file> or postgresql://… (got {parsed.drivername})"
    raise ValueError(message)


def for_writing(engine: Engine) -> Engine:
    """The same engine, whose transactions take SQLite's write lock as they begin.

    A transaction that reads first and asks for the lock later can be refused at once, without waiting its turn.
    """
    return engine.execution_options(**{WRITES: True})


def is_for_writing(engine: Engine) -> bool:
    """Whether the engine came from ``for_writing``."""
    return bool(engine.get_execution_options().get(WRITES, False))


def _open_sqlite(url: URL) -> Engine:
    if not url.database or url.database == ":memory:":
        message = "SQLite needs a file, as in sqlite:///fishplate.db"
        raise ValueError(message)
    Path(url.database).parent.mkdir(parents=True, exist_ok=True)
    engine = create_engine(url)
    file = _File(Path(url.database))
    event.listen(engine, "do_connect", lambda *_: file.check())
    event.listen(engine, "connect", _prepare_sqlite)
    event.listen(engine, "connect", lambda *_: file.remember())
    event.listen(engine, "begin", lambda _: file.check())
    event.listen(engine, "begin", _begin_sqlite)
    return engine


class _File:
    """The file that was opened first.

    SQLite goes on writing into one that was deleted or moved away, and makes a new one under the old name: what it
    would acknowledge then, nobody would find again.
    """

    def __init__(self, path: Path) -> None:
        self._path = path
        self._known: tuple[int, int] | None = None

    def remember(self) -> None:
        if self._known is None:
            self._known = self._there()

    def check(self) -> None:
        if self._known is not None and self._there() != self._known:
            message = f"{self._path} is no longer the file that was opened"
            raise FileMovedError(message)

    def _there(self) -> tuple[int, int] | None:
        try:
            found = self._path.stat()
        except OSError:
            return None
        return found.st_dev, found.st_ino


def _prepare_sqlite(connection: Any, _record: object) -> None:
    connection.isolation_level = None  # Python's driver must not begin transactions by itself: _begin_sqlite does
    # Text that was damaged on the disk must not keep the rest of its row from being read.
    connection.text_factory = lambda raw: raw.decode("utf-8", "replace")
    cursor = connection.cursor()
    cursor.execute(f"PRAGMA busy_timeout = {BUSY_TIMEOUT_MS}")
    _use_wal(cursor)
    # In WAL mode NORMAL hands every commit to the operating system before it returns, so killing the process loses
    # nothing. FULL also waits for the disk, so that a power cut right after the answer loses nothing either. An edit
    # is one gesture of a person, so the few milliseconds are worth it.
    cursor.execute("PRAGMA synchronous = FULL")
    cursor.execute("PRAGMA foreign_keys = ON")
    cursor.close()


def _use_wal(cursor: Any) -> None:
    # Changing the journal of a new file needs the file for oneself. Of workers that start together each may hold what
    # the other needs, and then SQLite refuses one at once, whatever its timeout.
    deadline = time.monotonic() + BUSY_TIMEOUT_MS / 1000
    while True:
        try:
            cursor.execute("PRAGMA journal_mode = WAL")
        except Exception as error:
            if "locked" not in str(error) or time.monotonic() > deadline:
                raise
            time.sleep(0.01)
        else:
            return


def _begin_sqlite(connection: Connection) -> None:
    writes = connection.get_execution_options().get(WRITES, False)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")
