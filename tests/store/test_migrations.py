"""Tables made and brought up to date at the start."""

import sqlite3
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor

import pytest
from alembic.autogenerate import compare_metadata
from alembic.config import Config
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import text
from sqlalchemy.exc import IntegrityError, OperationalError

from app.store import LaterDatabase, Store, migrate, open_engine
from app.store.engine import _use_wal
from app.store.migrate import LATEST, MIGRATIONS, NEW_SQLITE
from app.store.tables import metadata
from tests.store.new_sqlite import script, statements


@pytest.fixture
def engine(empty_url):
    opened = open_engine(empty_url)
    yield opened
    opened.dispose()


def test_the_migrations_make_the_tables_that_the_code_means(engine):
    migrate(engine)
    with engine.connect() as connection:
        assert compare_metadata(MigrationContext.configure(connection), metadata) == []


def test_the_latest_migration_is_the_one_named():
    config = Config()
    config.set_main_option("script_location", str(MIGRATIONS))
    assert ScriptDirectory.from_config(config).get_heads() == [LATEST]


def test_an_empty_sqlite_file_gets_just_what_the_migrations_make(sqlite_url):
    assert NEW_SQLITE.read_text(encoding="utf-8") == script(), "run: python -m tests.store.new_sqlite"
    opened = open_engine(sqlite_url)
    migrate(opened)
    with opened.connect() as connection:
        version = connection.execute(text("SELECT version_num FROM alembic_version")).scalar_one()
        made = [*statements(connection), f"INSERT INTO alembic_version VALUES ('{version}')"]
    opened.dispose()
    assert ";\n".join(made) + "\n" == script()
    assert version == LATEST


def test_a_first_start_loads_no_migrations(sqlite_url):
    code = "import sys; from app.store import Store; Store(sys.argv[1]).close(); print('alembic' in sys.modules)"
    command = [sys.executable, "-W", "error", "-c", code, sqlite_url]
    assert subprocess.run(command, capture_output=True, text=True, timeout=60, check=True).stdout == "False\n"


def test_a_start_that_breaks_off_leaves_an_empty_file(sqlite_url, tmp_path, monkeypatch):
    broken = tmp_path / "broken.sql"
    broken.write_text(NEW_SQLITE.read_text(encoding="utf-8") + ";\nCREATE TABLE document (twice TEXT)\n")
    opened = open_engine(sqlite_url)
    with monkeypatch.context() as patched:
        patched.setattr(sys.modules["app.store.migrate"], "NEW_SQLITE", broken)
        with pytest.raises(OperationalError, match="already exists"):
            migrate(opened)
    with opened.connect() as connection:
        assert statements(connection) == []
    migrate(opened)
    assert Store(opened).listing() == ()
    opened.dispose()


def test_a_file_that_holds_something_else_keeps_it(sqlite_url):
    opened = open_engine(sqlite_url)
    with opened.begin() as connection:
        connection.execute(text("CREATE TABLE guest (name TEXT)"))
    assert Store(opened).listing() == ()
    with opened.connect() as connection:
        assert connection.execute(text("SELECT count(*) FROM guest")).scalar_one() == 0
    opened.dispose()


def test_a_second_start_changes_nothing(engine, titled):
    store = Store(engine)
    made = store.create(titled("a"), "New")
    migrate(engine)
    assert Store(engine).get(made.id) == made


def test_a_later_database_is_refused_and_left_alone(engine, empty_url):
    migrate(engine)
    with engine.begin() as connection:
        connection.execute(text("UPDATE alembic_version SET version_num = '9999'"))
    with pytest.raises(LaterDatabase, match="later version of the program: 9999"):
        Store(empty_url)
    with engine.connect() as connection:
        assert connection.execute(text("SELECT version_num FROM alembic_version")).scalar_one() == "9999"


def test_workers_that_start_at_once_all_start(empty_url):
    code = "import sys; from app.store import Store; s = Store(sys.argv[1]); print(len(s.listing())); s.close()"

    def start(_):
        command = [sys.executable, "-W", "error", "-c", code, empty_url]
        return subprocess.run(command, capture_output=True, text=True, timeout=60, check=False)

    with ThreadPoolExecutor(4) as pool:
        for started in pool.map(start, range(4)):
            assert (started.stdout, started.stderr, started.returncode) == ("0\n", "", 0)


def test_threads_that_start_at_once_all_start(empty_url):
    def start(_):
        store = Store(empty_url)
        try:
            return store.listing()
        finally:
            store.close()

    with ThreadPoolExecutor(4) as pool:
        assert [list(listed) for listed in pool.map(start, range(4))] == [[]] * 4


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE document SET head_id = 4711",
        "DELETE FROM revision",
        "DELETE FROM content",
        "INSERT INTO revision (document_id, title, content_hash, label, created_at)"
        " SELECT 'nobody', '', content_hash, '', created_at FROM revision",
        "INSERT INTO content (document_id, hash, packed) SELECT 'nobody', hash, packed FROM content",
    ],
)
def test_the_database_itself_refuses_loose_ends(engine, titled, statement):
    store = Store(engine)
    made = store.create(titled("a"), "New")
    with pytest.raises(IntegrityError), engine.begin() as connection:
        connection.execute(text(statement))
    assert store.get(made.id) == made


class Refusing:
    """A database cursor that refuses the first times."""

    def __init__(self, *refusals):
        self.refusals, self.asked = list(refusals), []

    def execute(self, statement):
        self.asked.append(statement)
        if self.refusals:
            raise sqlite3.OperationalError(self.refusals.pop(0))


def test_sqlite_in_the_hands_of_another_starter_is_asked_again():
    # Seen with SQLite 3.40: of six processes that open a new file together, one is refused now and then, at once
    # and whatever the busy timeout.
    cursor = Refusing("database is locked", "database is locked")
    _use_wal(cursor)
    assert cursor.asked == ["PRAGMA journal_mode = WAL"] * 3


def test_other_troubles_of_sqlite_are_told_at_once():
    cursor = Refusing("disk I/O error")
    with pytest.raises(sqlite3.OperationalError, match="disk"):
        _use_wal(cursor)
    assert len(cursor.asked) == 1
