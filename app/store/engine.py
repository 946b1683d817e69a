"""Opening the database: SQLite in a file, or PostgreSQL, chosen by the URL."""

import time
from collections.abc import Iterator
from contextlib import contextmanager
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


def of_one_moment(engine: Engine) -> Engine:
    """The same engine, whose transactions see the database as it was when they first read; SQLite's always do."""
    return engine if engine.dialect.name == "sqlite" else engine.execution_options(isolation_level="REPEATABLE READ")


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
    event.listen(engine, "begin", lambda connection: file.check_log(connection.info))
    event.listen(engine, "commit", lambda _: file.check())
    event.listen(engine, "commit", lambda connection: file.check_log(connection.info))
    return engine


Found = tuple[int, int]
LOG = "fishplate_log"


class _File:
    """The file that was opened first, and each connection's write-ahead log.

    SQLite goes on writing into files that were deleted or moved away, and makes new ones under the old names: what it
    would acknowledge then, nobody would find again.
    """

    def __init__(self, path: Path) -> None:
        self._path = path
        self._log = path.with_name(path.name + "-wal")
        self._known: Found | None = None

    def remember(self) -> None:
        if self._known is None:
            self._known = _there(self._path)

    def check(self) -> None:
        if self._known is not None and _there(self._path) != self._known:
            message = f"{self._path} is no longer the file that was opened"
            raise FileMovedError(message)

    def check_log(self, known: dict[Any, Any]) -> None:
        """A connection opens the log as its first transaction begins, and keeps it while it is open."""
        there = _there(self._log)
        if there is not None:
            known.setdefault(LOG, there)
        if known.get(LOG) != there:
            message = f"{self._log} is no longer the log that was opened"
            raise FileMovedError(message)


def _there(path: Path) -> Found | None:
    try:
        found = path.stat()
    except OSError:
        return None
    return found.st_dev, found.st_ino


def _prepare_sqlite(connection: Any, _record: object) -> None:
    connection.isolation_level = None  # Python's driver must not begin transactions by itself: _begin_sqlite does
    # Text that was damaged on the disk must not keep the rest of its row from being read.
    connection.text_factory = lambda raw: raw.decode("utf-8", "replace")
    cursor = connection.cursor()
    cursor.execute(f"PRAGMA busy_timeout = {BUSY_TIMEOUT_MS}")
    if cursor.execute("PRAGMA page_count").fetchone() == (0,):
        # What is deleted from a new file can be given back to the disk (``tidy``); an old one would be written to.
        cursor.execute("PRAGMA auto_vacuum = INCREMENTAL")
    _use_wal(cursor)
    # What is deleted is written over.
    cursor.execute("PRAGMA secure_delete = ON")
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


def tidy(engine: Engine) -> bool:
    """On SQLite, give the room of what was deleted back to the disk, and empty the write-ahead log.

    Afterwards nothing deleted is left in either file, and the database's file holds all alone. False: others read
    meanwhile, and hold parts of the log; try again later.
    """
    if engine.dialect.name != "sqlite":
        return True
    with _outside_transactions(engine) as cursor:
        cursor.execute("PRAGMA busy_timeout = 50")  # writers wait meanwhile
        try:
            # As a script: of a statement without columns Python's driver takes one step only, and so frees one page.
            cursor.executescript("PRAGMA incremental_vacuum")
            (busy, _, _) = cursor.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()
        finally:
            cursor.execute(f"PRAGMA busy_timeout = {BUSY_TIMEOUT_MS}")
    return not busy


def log_bytes(engine: Engine) -> int:
    """How much lies in SQLite's write-ahead log; 0 on PostgreSQL."""
    if engine.dialect.name != "sqlite":
        return 0
    try:
        return Path(f"{engine.url.database}-wal").stat().st_size
    except OSError:
        return 0


def make_shrinkable(engine: Engine) -> None:
    """Write a SQLite file of an earlier version anew, once, so that it can shrink; takes seconds for a large one."""
    if engine.dialect.name != "sqlite":
        return
    with _outside_transactions(engine) as cursor:
        (kind,) = cursor.execute("PRAGMA auto_vacuum").fetchone()
        if kind == 0:
            cursor.execute("PRAGMA auto_vacuum = INCREMENTAL")
            cursor.execute("VACUUM")


@contextmanager
def _outside_transactions(engine: Engine) -> Iterator[Any]:
    connection = engine.raw_connection()
    try:
        cursor = connection.cursor()
        yield cursor
        cursor.close()
    finally:
        connection.close()
