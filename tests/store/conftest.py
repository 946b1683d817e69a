"""A store on each database the program runs on; the PostgreSQL server is a throw-away one of our own."""

import glob
import itertools
import os
import pwd
import shutil
import signal
import subprocess
import tempfile
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import psycopg
import pytest

from app.case import Case, parse_case
from app.store import Store

DATABASES = [pytest.param("sqlite"), pytest.param("postgresql", marks=pytest.mark.postgres)]
START_S = 20


def _binary(name: str) -> str | None:
    found = sorted(glob.glob(f"/usr/lib/postgresql/*/bin/{name}"))  # noqa: PTH207 - an absolute pattern
    return shutil.which(name) or (found[-1] if found else None)


def _unprivileged() -> str | None:
    """Whom to run the server as: it refuses root."""
    if os.geteuid() != 0:
        return None
    known = {entry.pw_name for entry in pwd.getpwall()}
    return next(name for name in ("postgres", "nobody") if name in known)


def missing_server(what: str) -> None:
    """Skip where one may work without PostgreSQL, fail where everything must be tested."""
    if os.environ.get("CI") == "true" or os.environ.get("FISHPLATE_REQUIRE_ALL") == "1":
        pytest.fail(f"{what}; these tests may not be left out here")
    pytest.skip(f"{what}; on Debian: apt-get install postgresql")


class Server:
    """A PostgreSQL server on a socket in its own folder, without a network port."""

    def __init__(self, folder: Path, initdb: str, postgres: str) -> None:
        self.folder = folder
        self._postgres = postgres
        self._user = _unprivileged()
        if self._user is not None:
            shutil.chown(folder, self._user)
        command = [initdb, "-D", str(folder / "data"), "-U", "fishplate", "-A", "trust", "-E", "UTF8", "--no-sync"]
        subprocess.run(command, check=True, capture_output=True, cwd="/", user=self._user, timeout=60)
        self.start()

    def start(self) -> None:
        options = ["-k", str(self.folder), "-c", "listen_addresses=", "-c", "fsync=off", "-c", "shared_buffers=16MB"]
        command = [self._postgres, "-D", str(self.folder / "data"), *options]
        with (self.folder / "log").open("ab") as log:
            self._process = subprocess.Popen(command, stdout=log, stderr=log, cwd="/", user=self._user)
        deadline = time.monotonic() + START_S
        while True:
            try:
                self.run("SELECT 1")
                return
            except psycopg.OperationalError:
                if self._process.poll() is not None or time.monotonic() > deadline:
                    pytest.fail("PostgreSQL didn't start:\n" + (self.folder / "log").read_text())
                time.sleep(0.02)

    def stop(self) -> None:
        self._process.send_signal(signal.SIGINT)  # its "fast" shutdown: clients are cut off
        self._process.wait(START_S)

    def run(self, statement: str, database: str = "postgres") -> None:
        with psycopg.connect(host=str(self.folder), user="fishplate", dbname=database, autocommit=True) as connection:
            connection.execute(statement.encode())

    def url(self, database: str) -> str:
        return f"postgresql://fishplate@/{database}?host={self.folder}"


@pytest.fixture(scope="session")
def postgres_server() -> Iterator[Server]:
    initdb, postgres = _binary("initdb"), _binary("postgres")
    if initdb is None or postgres is None:
        missing_server("no PostgreSQL server is installed")
    # Not in pytest's folder: that is closed to other users, and a socket's path may only have 107 characters.
    folder = Path(tempfile.mkdtemp(prefix="fishplate-pg-"))
    try:
        server = Server(folder, str(initdb), str(postgres))
        yield server
        server.stop()
    finally:
        shutil.rmtree(folder, ignore_errors=True)


_numbers = itertools.count(1)


@pytest.fixture(scope="session")
def migrated_postgres_url(postgres_server: Server) -> str:
    postgres_server.run("CREATE DATABASE migrated")
    url = postgres_server.url("migrated")
    Store(url).close()
    return url


@pytest.fixture
def postgres_url(postgres_server: Server, migrated_postgres_url: str) -> str:
    """One database for all tests, emptied before each: making a new one takes a third of a second."""
    postgres_server.run("TRUNCATE document, revision, whatif", "migrated")
    return migrated_postgres_url


@pytest.fixture
def empty_postgres_url(postgres_server: Server) -> Iterator[str]:
    name = f"test_{next(_numbers)}"
    postgres_server.run(f"CREATE DATABASE {name}")
    yield postgres_server.url(name)
    postgres_server.run(f"DROP DATABASE {name} WITH (FORCE)")


@pytest.fixture
def sqlite_url(tmp_path: Path) -> str:
    return f"sqlite:///{tmp_path}/data/fishplate.db"


@pytest.fixture(params=DATABASES)
def store_url(request: pytest.FixtureRequest) -> str:
    return request.getfixturevalue("sqlite_url" if request.param == "sqlite" else "postgres_url")


@pytest.fixture(params=DATABASES)
def empty_url(request: pytest.FixtureRequest) -> str:
    """A database as nothing has ever opened it."""
    return request.getfixturevalue("sqlite_url" if request.param == "sqlite" else "empty_postgres_url")


@dataclass
class Told:
    """What the store said it changed."""

    changes: list[tuple[str, int]]

    def __call__(self, document_id: str, version: int) -> None:
        self.changes.append((document_id, version))


@pytest.fixture
def told() -> Told:
    return Told([])


@pytest.fixture
def store(store_url: str, told: Told) -> Iterator[Store]:
    opened = Store(store_url, told)
    yield opened
    opened.close()


@pytest.fixture(scope="session")
def titled() -> Callable[[str], Case]:
    """A valid case with a title."""
    case = parse_case(
        """{"format": "fishplate-case/1", "title": "Shaft", "note": "tabs\\tand\\nbreaks, 5 µm × 40°",
            "constructs": [{
                "bone": {"name": "humerus", "length_mm": 310},
                "fracture": {"code": "12a2", "lines": [{"position_mm": 160.1, "obliquity_deg": 40}]},
                "principle": "compression",
                "plate": {"series": "large-narrow-4.5", "holes": 3, "centre_mm": 160},
                "holes": [{"role": "neutral"}, {}, {"role": "lag", "tilt_deg": -20}],
                "lag_screws": [{"position_mm": 150}]}]}"""
    )
    return lambda title: case.model_copy(update={"title": title})
