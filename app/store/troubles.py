"""What keeps a database from serving, in a sentence that says what to do about it."""

import re
import sqlite3
from dataclasses import dataclass

from sqlalchemy.exc import DBAPIError, IntegrityError, InterfaceError, OperationalError
from sqlalchemy.exc import TimeoutError as NoConnectionFree

from app.store.errors import Unavailable

NOTHING = "nothing was written"
UNKNOWN = "it is not known whether the change was written"


class FileMovedError(Exception):
    """The SQLite file that was opened at the start no longer lies under its name."""


@dataclass(frozen=True, slots=True)
class Cause:
    """What is wrong, and what to do. ``undone``: a commit that fails for it has kept nothing for certain."""

    what: str
    remedy: str
    undone: bool = False


SILENT = Cause("the database doesn't answer", "Try again in a moment.")
FULL = Cause("the disk that holds the cases is full", "Make room on it, then try again.", undone=True)
READ_ONLY = Cause(
    "the cases can only be read, not written", "Let the server write to its data folder, then try again.", undone=True
)
LOCKED = Cause(
    "another program holds the database",
    "Try again in a moment; if it stays so, close whatever else has the database open.",
    undone=True,
)
DAMAGED = Cause("the database is damaged", "Stop the server, keep the damaged file, and put back a copy from before.")
DISK = Cause("the disk that holds the cases reports errors", "Look after the disk and the room on it, then try again.")
MISSING = Cause(
    "the file with the cases is not where it was, or may not be opened",
    "Put it back; or put a copy there and start the server again.",
)
TABLES = Cause("the database lacks a table that it should have", "Stop the server and put back a copy from before.")

# Primary result codes, https://www.sqlite.org/rescode.html. After FULL, BUSY and READONLY the transaction is rolled
# back, by SQLite or by us: https://www.sqlite.org/lang_transaction.html, "Response to errors within a transaction".
OF_SQLITE = {
    sqlite3.SQLITE_BUSY: LOCKED,
    sqlite3.SQLITE_LOCKED: LOCKED,
    sqlite3.SQLITE_PROTOCOL: LOCKED,
    sqlite3.SQLITE_READONLY: READ_ONLY,
    sqlite3.SQLITE_PERM: READ_ONLY,
    sqlite3.SQLITE_IOERR: DISK,
    sqlite3.SQLITE_CORRUPT: DAMAGED,
    sqlite3.SQLITE_NOTADB: DAMAGED,
    sqlite3.SQLITE_FULL: FULL,
    sqlite3.SQLITE_CANTOPEN: MISSING,
}
PRIMARY = 0xFF  # the other bits say more precisely what a primary code says
# https://www.postgresql.org/docs/current/errcodes-appendix.html
OF_POSTGRESQL = {
    "53100": FULL,
    "25006": READ_ONLY,
    "42501": READ_ONLY,
    "55P03": LOCKED,
    "40P01": LOCKED,
    "XX001": DAMAGED,
    "XX002": DAMAGED,
    "58030": DISK,
    "42P01": TABLES,
    "42703": TABLES,
}
_LACKS = re.compile(r"no such (table|column)")

Trouble = DBAPIError | NoConnectionFree | FileMovedError


def cause_of(error: Trouble) -> Cause | None:
    """Why the database can't serve; None where the program is at fault, not the database."""
    if isinstance(error, FileMovedError):
        return MISSING
    if isinstance(error, IntegrityError):
        return None
    original = error.orig if isinstance(error, DBAPIError) else None
    if isinstance(original, sqlite3.Error):
        known = _of_sqlite(original)
    else:
        known = OF_POSTGRESQL.get(getattr(original, "sqlstate", None) or "")
    if known is None and isinstance(error, OperationalError | InterfaceError | NoConnectionFree):
        return SILENT
    return known


def _of_sqlite(error: sqlite3.Error) -> Cause | None:
    if _LACKS.search(str(error)):
        return TABLES
    return OF_SQLITE.get(getattr(error, "sqlite_errorcode", 0) & PRIMARY)


def unavailable(cause: Cause, *, writing: bool, committing: bool) -> Unavailable:
    """The error for a caller: what is wrong, what became of the write, what to do."""
    if not writing:
        return Unavailable(f"{cause.what}. {cause.remedy}", written=False)
    known = cause.undone or not committing
    fate = NOTHING if known else UNKNOWN
    return Unavailable(f"{cause.what}; {fate}. {cause.remedy}", written=False if known else None)
