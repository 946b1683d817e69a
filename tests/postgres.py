"""A throw-away PostgreSQL server for the tests, started from Debian's package."""

import glob
import itertools
import os
import pwd
import shutil
import signal
import subprocess
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import psycopg
import pytest

START_S = 20
ROOM_S = 60  # for one of its tools
_numbers = itertools.count(1)


def _binary(name: str) -> str | None:
    found = sorted(glob.glob(f"/usr/lib/postgresql/*/bin/{name}"))  # noqa: PTH207 - an absolute pattern
    return shutil.which(name) or (found[-1] if found else None)


def tool(name: str) -> str:
    """One of the programs that come with the server."""
    found = _binary(name)
    if found is None:
        missing_server(name)
    return str(found)


def unprivileged() -> str | None:
    """Whom to run the server as: it refuses root."""
    if os.geteuid() != 0:
        return None
    known = {entry.pw_name for entry in pwd.getpwall()}
    return next(name for name in ("postgres", "nobody") if name in known)


def missing_server(what: str) -> None:
    """Skip where one may work without PostgreSQL, fail where everything must be tested."""
    missing_program(what, "postgresql")


def missing_program(what: str, package: str) -> None:
    """The same for any of Debian's packages."""
    if os.environ.get("CI") == "true" or os.environ.get("FISHPLATE_REQUIRE_ALL") == "1":
        pytest.fail(f"{what} is missing; these tests may not be left out here")
    pytest.skip(f"{what} is missing; on Debian: apt-get install {package}")


class Server:
    """A PostgreSQL server on a socket in its own folder, without a network port."""

    def __init__(self, folder: Path, initdb: str, postgres: str) -> None:
        self.folder = folder
        self._postgres = postgres
        self._user = unprivileged()
        if self._user is not None:
            shutil.chown(folder, self._user)
        command = [initdb, "-D", str(folder / "data"), "-U", "fishplate", "-A", "trust", "-E", "UTF8", "--no-sync"]
        subprocess.run(command, check=True, capture_output=True, cwd="/", user=self._user, timeout=ROOM_S)
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

    @contextmanager
    def new_database(self) -> Iterator[str]:
        """An empty database, by its URL; gone afterwards, whoever is still connected."""
        name = f"test_{next(_numbers)}"
        self.run(f"CREATE DATABASE {name}")
        yield self.url(name)
        self.run(f"DROP DATABASE {name} WITH (FORCE)")

    def url(self, database: str) -> str:
        return f"postgresql://fishplate@/{database}?host={self.folder}"


@pytest.fixture(scope="session")
def postgres_server() -> Iterator[Server]:
    initdb, postgres = _binary("initdb"), _binary("postgres")
    if initdb is None or postgres is None:
        missing_server("a PostgreSQL server")
    # Not in pytest's folder: that is closed to other users, and a socket's path may only have 107 characters.
    folder = Path(tempfile.mkdtemp(prefix="fishplate-pg-"))
    try:
        server = Server(folder, str(initdb), str(postgres))
        yield server
        server.stop()
    finally:
        shutil.rmtree(folder, ignore_errors=True)


@pytest.fixture
def empty_postgres_url(postgres_server: Server) -> Iterator[str]:
    with postgres_server.new_database() as url:
        yield url
