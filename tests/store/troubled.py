"""Ways to get SQLite into trouble for real, none of which needs a special user or a special disk.

Each takes an open store with cases in it, and answers a function that ends the trouble. What SQLite reports for each is
at https://www.sqlite.org/rescode.html.
"""

import secrets
import sqlite3
from collections.abc import Callable
from pathlib import Path

from sqlalchemy import event

from app.store import Store

PAGE_BYTES = 4096
LONG = secrets.token_hex(950)  # of a note: it can hardly be packed, so that a few edits fill a page
Mend = Callable[[], None]


def path_of(store: Store) -> Path:
    """The database's file."""
    return Path(str(store.engine.url.database))


def _on_every_connection(store: Store, *pragmas: str) -> Mend:
    def prepare(connection: sqlite3.Connection, _record: object) -> None:
        for pragma in pragmas:
            connection.execute(pragma).fetchall()

    event.listen(store.engine, "connect", prepare)
    store.engine.dispose()

    def mend() -> None:
        event.remove(store.engine, "connect", prepare)
        store.engine.dispose()

    return mend


def full(store: Store) -> Mend:
    """No page more: SQLITE_FULL, as from a disk without room (https://www.sqlite.org/pragma.html#pragma_max_page_count)."""
    with sqlite3.connect(path_of(store)) as file:
        (pages,) = file.execute("PRAGMA page_count").fetchone()
        # What is free within the file would let a few more edits in.
        (spare,) = file.execute("PRAGMA freelist_count").fetchone()
    assert spare == 0
    return _on_every_connection(store, f"PRAGMA max_page_count = {pages}")


def read_only(store: Store) -> Mend:
    """No writes: SQLITE_READONLY, as from a file that may only be read."""
    return _on_every_connection(store, "PRAGMA query_only = ON")


def locked(store: Store) -> Mend:
    """Another program holds the write lock: SQLITE_BUSY, after the usual patience (shortened here)."""
    end = _on_every_connection(store, "PRAGMA busy_timeout = 50")
    other = sqlite3.connect(path_of(store), check_same_thread=False)
    other.execute("BEGIN IMMEDIATE")

    def mend() -> None:
        other.close()
        end()

    return mend


def damaged(store: Store) -> Mend:
    """Every page but the first overwritten: SQLITE_CORRUPT."""
    return _overwritten(store, PAGE_BYTES)


def no_database(store: Store) -> Mend:
    """The first page overwritten too: SQLITE_NOTADB."""
    return _overwritten(store, 0)


def _overwritten(store: Store, start: int) -> Mend:
    path = path_of(store)
    with (
        store.engine.connect() as connection
    ):  # whoever follows holds the file open too: the log is not written by itself
        connection.exec_driver_sql("PRAGMA wal_checkpoint(TRUNCATE)")
    store.engine.dispose()
    whole = path.read_bytes()
    # In place: a file that is cut short first is an empty database for a moment, and whoever opens it then gives it a
    # header and a log of its own, after which tables are missing.
    with path.open("r+b") as file:
        file.seek(start)
        file.write(b"\xa5" * (len(whole) - start))

    def mend() -> None:
        store.engine.dispose()
        for rest in ("-wal", "-shm"):
            path.with_name(path.name + rest).unlink(missing_ok=True)
        path.write_bytes(whole)

    return mend


def moved(store: Store) -> Mend:
    """Somebody takes the file away under the running server, and SQLite would go on writing into it unseen."""
    path = path_of(store)
    aside = path.with_name("aside.db")
    path.rename(aside)

    def mend() -> None:
        aside.rename(path)

    return mend


def no_table(store: Store) -> Mend:
    """Somebody dropped a table."""
    with sqlite3.connect(path_of(store)) as file:
        file.execute("ALTER TABLE document RENAME TO elsewhere")

    def mend() -> None:
        with sqlite3.connect(path_of(store)) as file:
            file.execute("ALTER TABLE elsewhere RENAME TO document")

    return mend


# What brings it about, and what the sentence must say: what is wrong, and what to do.
TROUBLES: dict[str, tuple[Callable[[Store], Mend], str, str]] = {
    "full": (full, "disk that holds the cases is full", "Make room"),
    "read-only": (read_only, "can only be read", "Let the server write"),
    "locked": (locked, "another program holds the database", "Try again in a moment"),
    "damaged": (damaged, "the database is damaged", "put back a copy"),
    "no database": (no_database, "the database is damaged", "put back a copy"),
    "moved": (moved, "not where it was", "Put it back"),
    "no table": (no_table, "lacks a table", "put back a copy"),
}
