"""Backup and restore of a SQLite library: one whole file, checked, put in its place at once or not at all.

A copy is made by SQLite's own backup call (https://www.sqlite.org/backup.html) in a single step, so that it shows one
moment and holds up no writer. On PostgreSQL the database's own tools do this.
"""

import dataclasses
import os
import sqlite3
import tempfile
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from sqlalchemy import make_url

from app.store.errors import BackupRefused
from app.store.migrate import LATEST

BESIDE = ("-wal", "-shm", "-journal")
PATIENCE_S = 30.0


@dataclass(frozen=True, slots=True)
class Copied:
    """What a copy holds; ``aside`` is where a restore put the library that was there before."""

    cases: int
    revisions: int
    size_bytes: int
    aside: Path | None = None


def library_file(url: str) -> Path:
    """The file of a SQLite library.

    Raises:
        BackupRefused: the library lies on PostgreSQL; the message names its tools.
        ValueError: no database URL.
    """
    parsed = make_url(url)
    if parsed.get_backend_name() == "postgresql":
        name = parsed.database or "fishplate"
        message = (
            f"the cases are kept on PostgreSQL, which has tools of its own: "
            f"pg_dump --format=custom --file=FILE {name} makes a backup while the server runs, and with it stopped "
            f"pg_restore --clean --if-exists --single-transaction --dbname={name} FILE puts it back"
        )
        raise BackupRefused(message)
    if parsed.get_backend_name() != "sqlite" or not parsed.database:
        message = "the database must be sqlite:///<file> or postgresql://…"
        raise BackupRefused(message)
    return Path(parsed.database)


def backup(library: Path, target: Path, *, force: bool = False) -> Copied:
    """Write a copy of a library, also while servers work on it: every edit acknowledged before the call is in it.

    Raises:
        BackupRefused: there is no library, it is damaged, or the target is there already and ``force`` is not given.
        OSError: the target can't be written.
    """
    if not library.is_file():
        message = f"{library}: there is no library here; name its folder with --data"
        raise BackupRefused(message)
    if target.exists() and (not force or target.samefile(library)):
        message = f"{target}: is there already; name another file" + ("" if force else ", or give --force")
        raise BackupRefused(message)
    with _copy(library, target.parent) as (part, copied):
        _put(part, target, force=force)
    return copied


def restore(file: Path, library: Path, *, replace: bool = False) -> Copied:
    """Put a backup in a library's place; what was there is kept beside it, under a name with the time.

    Raises:
        BackupRefused: the file is no whole library or a later version's, the library's place is taken and ``replace``
            is not given, or a write-ahead log lies beside either, which would be mixed with what it doesn't belong to.
        OSError: the library can't be written.
    """
    if not file.is_file():
        message = f"{file}: there is no such file"
        raise BackupRefused(message)
    _refuse_log(
        file,
        ", so this is a copy of a library in use; name them fishplate.db and fishplate.db-wal in a folder of their "
        "own, make a backup of that (fishplate backup --data FOLDER FILE) and restore it",
    )
    _refuse_log(
        library,
        ": stop the server that uses it; if none does, one ended hard: start and stop it once, or move these files "
        "away",
    )
    if library.exists() and not replace:
        message = f"{library}: a library is there already; give --force to put it aside and restore"
        raise BackupRefused(message)
    library.parent.mkdir(parents=True, exist_ok=True)
    with _copy(file, library.parent) as (part, copied):
        aside = _put_aside(library) if library.exists() else None
        _put(part, library, force=False)
    return dataclasses.replace(copied, aside=aside)


def _refuse_log(file: Path, so: str) -> None:
    if beside := _beside(file):
        message = f"{file}: a write-ahead log lies beside it ({', '.join(one.name for one in beside)}){so}"
        raise BackupRefused(message)


def _beside(file: Path) -> list[Path]:
    return [there for end in BESIDE if (there := file.with_name(file.name + end)).exists()]


def _put_aside(library: Path) -> Path:
    when = datetime.now(UTC).strftime("%Y%m%dT%H%M%S")
    for number in range(1, 1000):
        aside = library.with_name(f"{library.stem}-before-{when}{f'-{number}' if number > 1 else ''}{library.suffix}")
        if not aside.exists():
            library.rename(aside)
            return aside
    message = f"{library}: can't be put aside; move it away"
    raise BackupRefused(message)


@contextmanager
def _copy(source: Path, folder: Path) -> Iterator[tuple[Path, Copied]]:
    """A checked copy under a passing name in the folder where it is to stay; gone afterwards unless it was moved."""
    # Made by mkstemp, so that nobody but its owner can read it: it holds cases, and the server's secret.
    handle, name = tempfile.mkstemp(prefix=".fishplate-", suffix=".part", dir=folder)
    os.close(handle)
    part = Path(name)
    try:
        try:
            copied = _copied(source, part)
        except sqlite3.Error as error:
            message = f"{source}: can't be copied: {error}; use a copy from before"
            raise BackupRefused(message) from error
        _to_disk(part)
        yield part, copied
    finally:
        for one in (part, *_beside(part)):
            one.unlink(missing_ok=True)


def _copied(source: Path, part: Path) -> Copied:
    with (
        closing(sqlite3.connect(source.absolute().as_uri() + "?mode=rw", timeout=PATIENCE_S, uri=True)) as from_file,
        closing(sqlite3.connect(part)) as to_file,
    ):
        from_file.backup(to_file, pages=-1)
        # A backup has no log beside it: it is one file, which can be carried away.
        to_file.execute("PRAGMA journal_mode = DELETE")
        _check(source, to_file)
        (cases,) = to_file.execute("SELECT count(*) FROM document").fetchone()
        (revisions,) = to_file.execute("SELECT count(*) FROM revision").fetchone()
    return Copied(cases, revisions, part.stat().st_size)


def _check(source: Path, copy: sqlite3.Connection) -> None:
    found = [row[0] for row in copy.execute("PRAGMA integrity_check(3)")]
    if found != ["ok"]:
        message = f"{source}: is damaged ({found[0].splitlines()[-1]}); use a copy from before"
        raise BackupRefused(message)
    tables = {row[0] for row in copy.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
    if not {"alembic_version", "document", "revision"} <= tables:
        message = f"{source}: holds no library of Fishplate"
        raise BackupRefused(message)
    (version,) = copy.execute("SELECT version_num FROM alembic_version").fetchone()
    if version > LATEST:
        message = f"{source}: is of a later version of the program ({version}; this one knows up to {LATEST})"
        raise BackupRefused(message)
    torn = copy.execute("PRAGMA foreign_key_check").fetchone()
    if torn is not None:
        message = f"{source}: is damaged (a row of {torn[0]} lacks what it belongs to); use a copy from before"
        raise BackupRefused(message)


def _put(part: Path, target: Path, *, force: bool) -> None:
    if force:
        part.replace(target)
    else:
        # Unlike a renaming, this fails where somebody else was quicker.
        try:
            target.hardlink_to(part)
        except OSError as error:  # it is there, or the file system has no links, as on many memory sticks
            if isinstance(error, FileExistsError) or target.exists():
                message = f"{target}: is there already; name another file"
                raise BackupRefused(message) from error
            part.rename(target)
    _to_disk(target.parent)


def _to_disk(path: Path) -> None:
    if os.name == "nt" and path.is_dir():  # no handle of a folder there
        return
    handle = os.open(path, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
