"""One transaction, and what became of it: kept, not kept, or not known."""

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass

from sqlalchemy import Connection, Engine
from sqlalchemy.exc import DBAPIError
from sqlalchemy.exc import TimeoutError as NoConnectionFree

from app.store.engine import is_for_writing
from app.store.errors import Unavailable
from app.store.troubles import FileMovedError, cause_of, unavailable


@dataclass(slots=True)
class Writes:
    """How many writes of one request are kept, and of how many that isn't known."""

    kept: int = 0
    doubtful: int = 0


@dataclass(slots=True)
class Step:
    """How far a transaction has come."""

    committing: bool = False


# Whoever serves a request puts a new one here, and looks into it when something fails. Threads that work for the
# request get a copy of its context, and so the same object.
WRITES: ContextVar[Writes | None] = ContextVar("fishplate_writes", default=None)


@contextmanager
def transaction(engine: Engine, counted: bool = True) -> Iterator[Connection]:
    """Commit at the end, or roll everything back; what nobody asked for is not ``counted`` as a write.

    Raises:
        Unavailable: the database can't serve; the message says why, and whether anything was written.
    """
    writing = is_for_writing(engine)
    step = Step()
    writes = (WRITES.get() if writing and counted else None) or Writes()
    try:
        with telling_why(writing, step), engine.begin() as connection:
            yield connection
            step.committing = True
    except BaseException as error:
        writes.doubtful += step.committing and not (isinstance(error, Unavailable) and error.written is False)
        raise
    writes.kept += 1


@contextmanager
def telling_why(writing: bool, step: Step | None = None) -> Iterator[None]:
    """Turn what the database driver raises into ``Unavailable``, unless the program is at fault.

    Raises:
        Unavailable: the database can't serve.
    """
    try:
        yield
    except (DBAPIError, NoConnectionFree, FileMovedError, sqlite3.Error) as error:
        cause = cause_of(error)
        if cause is None:
            raise
        raise unavailable(cause, writing=writing, committing=step is not None and step.committing) from error
