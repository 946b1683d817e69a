"""Databases that earlier versions left open with everything in them; ``old_library.py`` writes them down."""

import json
import sqlite3

import pytest
from sqlalchemy import text

from app.case import parse_case
from app.case.models import FORMAT
from app.store import Once, Store, open_engine
from app.store.engine import for_writing
from app.store.migrate import LATEST
from tests.store.old_library import FOLDER, told
from tests.store.versions import bring_to

WRITTEN_AS = {"0003": "fishplate-case/1"}  # and today's since
VERSIONS = sorted(path.stem for path in FOLDER.glob("*.sql"))


def test_an_old_database_is_at_hand():
    assert VERSIONS
    assert VERSIONS[0] < LATEST


def restored(version):
    """The old file, as SQLite itself reads it in."""
    connection = sqlite3.connect(":memory:")
    connection.executescript((FOLDER / f"{version}.sql").read_text(encoding="utf-8"))
    return connection


def put_back(version, url):
    """An old database under the address: the file itself, or on PostgreSQL the tables of that time with its rows."""
    engine = open_engine(url)
    if engine.dialect.name == "sqlite":
        with sqlite3.connect(url.removeprefix("sqlite:///")) as file:
            restored(version).backup(file)
        engine.dispose()
        return
    bring_to(engine, version)
    with for_writing(engine).begin() as connection:
        connection.execute(text("SET CONSTRAINTS ALL DEFERRED"))
        old = restored(version)
        old.row_factory = sqlite3.Row
        there = {row["name"] for row in old.execute("SELECT name FROM sqlite_master")}
        for name in [one for one in ("document", "content", "revision", "whatif", "secret") if one in there]:
            for row in old.execute(f"SELECT * FROM {name} ORDER BY 1"):
                values = {key: f"{row[key]}+00:00" if key.endswith("_at") else row[key] for key in row.keys()}  # noqa: SIM118 - a Row iterates over values
                columns = ", ".join(values)
                marks = ", ".join(f":{key}" for key in values)
                connection.execute(text(f"INSERT INTO {name} ({columns}) VALUES ({marks})"), values)
        for name in ("revision", "whatif"):
            connection.execute(
                text(f"SELECT setval(pg_get_serial_sequence('{name}', 'id'), (SELECT max(id) FROM {name}))")
            )
    engine.dispose()


@pytest.mark.parametrize("version", VERSIONS)
def test_an_old_database_opens_with_everything_in_it(version, empty_url, caplog):
    put_back(version, empty_url)
    answers = json.loads((FOLDER / f"{version}.json").read_text(encoding="utf-8"))
    files = [kept["case"] for kept in answers.values()]  # as they were exported then
    store = Store(empty_url)
    assert f"carrying the library over from version {version} to {LATEST}" in caplog.text
    with store.engine.connect() as connection:
        assert connection.execute(text("SELECT version_num FROM alembic_version")).scalar_one() == LATEST
    in_todays_format = {key: {**kept, "case": {**kept["case"], "format": FORMAT}} for key, kept in answers.items()}
    assert told(store) == in_todays_format
    for file in files:  # in whatever format, it is known for what it is
        assert file["format"] == WRITTEN_AS.get(version, FORMAT)
        assert store.import_case(parse_case(json.dumps(file)))[1] is False
    assert store.shared_secret(b"a new one") == b"kept for cookies"
    forked = next(one for one, kept in answers.items() if len(kept["revisions"]) > 1)
    saved = store.save(forked, store.get(forked).case, answers[forked]["version"], "Goes on", Once("new-key", "x"))
    assert saved.revision_id > max(one[0] for kept in answers.values() for one in kept["revisions"])
    assert store.undo(forked, saved.version).revision_id == answers[forked]["revision"]
    store.close()
    if empty_url.startswith("sqlite"):  # a backup would refuse one that lacks what it refers to
        with sqlite3.connect(empty_url.removeprefix("sqlite:///")) as file:
            assert file.execute("PRAGMA foreign_key_check").fetchall() == []
