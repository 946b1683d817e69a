"""What the migrations make of an empty SQLite file; ``python -m tests.store.new_sqlite`` writes it down as a script."""

import re
import tempfile
from pathlib import Path

from sqlalchemy import Connection, text

from app.store.engine import for_writing, open_engine
from app.store.migrate import NEW_SQLITE, _upgrade, _version

BY_ITSELF = "sqlite_%"  # SQLite makes these along with the others


def statements(connection: Connection) -> list[str]:
    """Every table and index as the file keeps it, whitespace aside, in the order of making."""
    made = text("SELECT sql FROM sqlite_master WHERE name NOT LIKE :by_itself ORDER BY rowid")
    found = connection.execute(made, {"by_itself": BY_ITSELF}).scalars()
    return [re.sub(r"\s*\n\s*", "\n  ", one).replace("\n  )", "\n)").strip() for one in found]


def script() -> str:
    """The tables and indices that the migrations make, and the version they come to."""
    with tempfile.TemporaryDirectory() as folder:
        engine = open_engine(f"sqlite:///{Path(folder) / 'new.db'}")
        with for_writing(engine).begin() as connection:
            _upgrade(connection)
            made = [*statements(connection), f"INSERT INTO alembic_version VALUES ('{_version(connection)}')"]
        engine.dispose()
    return ";\n".join(made) + "\n"


if __name__ == "__main__":
    NEW_SQLITE.write_text(script(), encoding="utf-8")
