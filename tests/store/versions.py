"""Databases as earlier versions of the program made them."""

from alembic import command
from alembic.config import Config
from sqlalchemy import Engine

from app.store.engine import for_writing
from app.store.migrate import MIGRATIONS


def bring_to(engine: Engine, version: str) -> None:
    """Make the tables of that version in an empty database, or of an earlier one those of that version."""
    config = Config()
    config.set_main_option("script_location", str(MIGRATIONS))
    with for_writing(engine).begin() as connection:
        config.attributes["connection"] = connection
        command.upgrade(config, version)
