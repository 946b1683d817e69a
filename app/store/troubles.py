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
    """What is wrong, and what to do. ``undone``: a commit that fails for it has kept nothing for certain.

    ``name`` and ``operator`` are for the log: the fault in a word, and what whoever runs the server can do.
    """

    what: str
    remedy: str
    name: str
    operator: str
    undone: bool = False


BACKUP = "Stop the server, keep the damaged files, and put back a backup: fishplate restore FILE."
SILENT = Cause(
    "the database doesn't answer",
    "Try again in a moment.",
    "silent",
    "See that the database server runs and takes connections; Fishplate connects again by itself.",
)
FULL = Cause(
    "the disk that holds the cases is full",
    "Make room on it, then try again.",
    "disk-full",
    "Make room on the disk of the data folder; no restart is needed.",
    undone=True,
)
READ_ONLY = Cause(
    "the cases can only be read, not written",
    "Let the server write to its data folder, then try again.",
    "read-only",
    "Let the server's user write to the data folder and the files in it; see how the disk is mounted.",
    undone=True,
)
LOCKED = Cause(
    "another program holds the database",
    "Try again in a moment; if it stays so, close whatever else has the database open.",
    "locked",
    "Find and end what holds the database open (lsof fishplate.db), as a copying or editing program.",
    undone=True,
)
DAMAGED = Cause(
    "the database is damaged",
    "Stop the server, keep the damaged file, and put back a copy from before.",
    "malformed",
    BACKUP,
)
DISK = Cause(
    "the disk that holds the cases reports errors",
    "Look after the disk and the room on it, then try again.",
    "disk-error",
    "Look after the disk (dmesg) and the room on it; make a backup elsewhere.",
)
MISSING = Cause(
    "the file with the cases is not where it was, or may not be opened",
    "Put it back; or put a copy there and start the server again.",
    "missing",
    "Put fishplate.db and what belongs to it back; or stop the server and restore a backup: fishplate restore FILE.",
)
TABLES = Cause(
    "the database lacks a table that it should have",
    "Stop the server and put back a copy from before.",
    "table-missing",
    BACKUP,
)

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

Trouble = DBAPIError | NoConnectionFree | FileMovedError | sqlite3.Error


def cause_of(error: Trouble) -> Cause | None:
    """Why the database can't serve; None where the program is at fault, not the database."""
    if isinstance(error, FileMovedError):
        return MISSING
    if isinstance(error, IntegrityError):
        return None
    original = error.orig if isinstance(error, DBAPIError) else error
    if isinstance(original, sqlite3.Error):
        known = _of_sqlite(original)
    else:
        known = OF_POSTGRESQL.get(getattr(original, "sqlstate", None) or "")
    if known is None and isinstance(
        error, sqlite3.OperationalError | OperationalError | InterfaceError | NoConnectionFree
    ):
        return SILENT
    return known


def _of_sqlite(error: sqlite3.Error) -> Cause | None:
    if _LACKS.search(str(error)):
        return TABLES
    return OF_SQLITE.get(getattr(error, "sqlite_errorcode", 0) & PRIMARY)


def unavailable(cause: Cause, *, writing: bool, committing: bool) -> Unavailable:
    """The error for a caller: what is wrong, what became of the write, what to do."""
    if not writing:
        message, written = f"{cause.what}. {cause.remedy}", False
        return Unavailable(message, written, cause.name, cause.operator)
    known = cause.undone or not committing
    fate = NOTHING if known else UNKNOWN
    message = f"{cause.what}; {fate}. {cause.remedy}"
    return Unavailable(message, False if known else None, cause.name, cause.operator)
