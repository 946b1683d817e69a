"""Bringing the tables up to date, at every start and from any number of workers at once."""

import logging
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Engine, func, inspect, select, text

from app.store.engine import BUSY_TIMEOUT_MS, for_writing
from app.store.errors import LaterDatabase

MIGRATIONS = Path(__file__).parent / "migrations"
# What all of them make of an empty file; tests/store/new_sqlite.py writes it.
NEW_SQLITE = MIGRATIONS / "new_sqlite.sql"
LATEST = "0006"
PATIENCE_MS = 600_000  # of a worker that starts while another one carries a large library over
_LOCK_KEY = 0x6669_7368  # "fish"; any number that no other user of the database takes

log = logging.getLogger(__name__)


def migrate(engine: Engine) -> None:
    """Run the migrations that the database lacks, all in one transaction; an empty SQLite file gets their result.

    Raises:
        LaterDatabase: written by a later version of the program; nothing is changed.
    """
    with engine.connect() as connection:
        if _version(connection) == LATEST:
            return
    with for_writing(engine).connect() as connection, _no_foreign_keys(connection), connection.begin():
        # SQLite's transaction holds the write lock already; a worker that comes second finds all done.
        if connection.dialect.name == "postgresql":
            connection.execute(select(func.pg_advisory_xact_lock(_LOCK_KEY)))
        if _is_empty_file(connection):
            _make_tables(connection)
        elif _version(connection) != LATEST:
            _upgrade(connection)


@contextmanager
def _no_foreign_keys(connection: Connection) -> Iterator[None]:
    """For SQLite, where a table is altered by making it anew: dropping the old one would empty those that refer to it.

    https://www.sqlite.org/lang_altertable.html, section 7. Inside a transaction the pragma does nothing.
    """
    if connection.dialect.name != "sqlite":
        yield
        return
    driver: Any = connection.connection.driver_connection
    driver.execute("PRAGMA foreign_keys = OFF")
    driver.execute(f"PRAGMA busy_timeout = {PATIENCE_MS}")
    try:
        yield
    finally:
        driver.execute("PRAGMA foreign_keys = ON")
        driver.execute(f"PRAGMA busy_timeout = {BUSY_TIMEOUT_MS}")


def _version(connection: Connection) -> str | None:
    if not inspect(connection).has_table("alembic_version"):
        return None
    return connection.execute(text("SELECT version_num FROM alembic_version")).scalar_one_or_none()


def _is_empty_file(connection: Connection) -> bool:
    if connection.dialect.name != "sqlite":
        return False
    count: int = connection.execute(text("SELECT count(*) FROM sqlite_master")).scalar_one()
    return count == 0


def _make_tables(connection: Connection) -> None:
    """Load no migrations for somebody's first start, who waits for the first page."""
    for statement in NEW_SQLITE.read_text(encoding="utf-8").split(";\n"):
        connection.exec_driver_sql(statement)


def _upgrade(connection: Connection) -> None:
    # Slow to load, and not needed on the latest version or an empty SQLite file.
    from alembic import command
    from alembic.config import Config
    from alembic.script import ScriptDirectory

    config = Config()
    config.set_main_option("script_location", str(MIGRATIONS).replace("%", "%%"))
    config.attributes["connection"] = connection
    present = _version(connection)
    known = {script.revision for script in ScriptDirectory.from_config(config).walk_revisions()}
    if present is not None and present not in known:
        message = f"the database is of a later version of the program: {present}, this one knows up to {LATEST}"
        raise LaterDatabase(message)
    if present is not None:  # whoever waits for the start should know what for
        log.warning("carrying the library over from version %s to %s; a large one takes minutes", present, LATEST)
    command.upgrade(config, "head")
