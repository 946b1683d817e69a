"""Backup and restore. What SQLite's backup promises is at https://www.sqlite.org/backup.html."""

import shutil
import sqlite3
import time
from pathlib import Path
from threading import Event, Thread

import pytest
from sqlalchemy import select

from app.store import BackupRefused, Store, Upkeep
from app.store.backup import backup, library_file, restore
from app.store.tables import content
from tests.store.troubled import path_of

WRITERS = 20


def restored(file: Path, folder: Path) -> Store:
    restore(file, folder / "fishplate.db")
    return Store(f"sqlite:///{folder}/fishplate.db")


def test_a_backup_amid_twenty_writers_has_every_edit_acknowledged_before_it(sqlite_url, titled, tmp_path):
    store = Store(sqlite_url)
    acknowledged = {store.create(titled(f"case {n}"), "New").id: 1 for n in range(WRITERS)}
    enough, stop = Event(), Event()

    def write(document_id):
        while not stop.is_set():
            version = acknowledged[document_id]
            case = titled(f"version {version + 1}")
            acknowledged[document_id] = store.save(document_id, case, version, "Edit").version
            if sum(acknowledged.values()) > 5 * WRITERS:
                enough.set()

    writers = [Thread(target=write, args=(one,)) for one in acknowledged]
    for one in writers:
        one.start()
    try:
        assert enough.wait(60)
        before = dict(acknowledged)
        copied = backup(path_of(store), tmp_path / "copy.db")
        after = dict(acknowledged)
    finally:
        stop.set()
        for one in writers:
            one.join()
    assert sum(after.values()) >= sum(before.values()) > 5 * WRITERS
    again = restored(tmp_path / "copy.db", tmp_path / "elsewhere")
    for document_id, version in before.items():
        at = again.get(document_id)
        # One more may have been kept, and not answered yet.
        assert version <= at.version <= acknowledged[document_id] + 1
        assert at.version == 1 or at.case.title == f"version {at.version}"
        assert len(again.revisions(document_id)) == at.version
    assert copied.cases == WRITERS
    assert copied.revisions == sum(one.version for one in again.listing())
    assert again.create(titled("goes on"), "New").version == 1
    again.close()
    store.close()


def test_a_backup_is_one_file_that_only_its_owner_reads(sqlite_url, titled, tmp_path):
    store = Store(sqlite_url)
    store.create(titled("a"), "New")
    folder = tmp_path / "backups"
    folder.mkdir()
    backup(path_of(store), folder / "copy.db")
    assert [one.name for one in folder.iterdir()] == ["copy.db"]
    assert (folder / "copy.db").stat().st_mode & 0o077 == 0
    with sqlite3.connect(folder / "copy.db") as file:
        assert file.execute("PRAGMA journal_mode").fetchone() == ("delete",)
    store.close()


def test_nothing_is_written_over_unasked(sqlite_url, titled, tmp_path):
    store = Store(sqlite_url)
    made = store.create(titled("first"), "New")
    target = tmp_path / "copy.db"
    backup(path_of(store), target)
    with pytest.raises(BackupRefused, match="is there already"):
        backup(path_of(store), target)
    with pytest.raises(BackupRefused, match=r"name another file$"):
        backup(path_of(store), path_of(store), force=True)
    store.save(made.id, titled("second"), 1, "Edit")
    assert backup(path_of(store), target, force=True).revisions == 2
    # A running server keeps a log beside its file.
    with pytest.raises(BackupRefused, match="stop the server"):
        restore(target, path_of(store), replace=True)
    store.save(made.id, titled("third"), 2, "Edit")
    store.close()
    with pytest.raises(BackupRefused, match="--force"):
        restore(target, path_of(store))
    aside = restore(target, path_of(store), replace=True).aside
    opened, kept = Store(sqlite_url), Store(f"sqlite:///{aside}")
    assert (opened.get(made.id).case.title, kept.get(made.id).case.title) == ("second", "third")
    opened.close()
    kept.close()


def test_what_is_no_whole_library_is_not_restored(sqlite_url, titled, tmp_path):
    store = Store(sqlite_url)
    store.create(titled("a"), "New")
    good = tmp_path / "copy.db"
    backup(path_of(store), good)
    store.close()
    whole = good.read_bytes()
    later, empty, damaged, text = (tmp_path / f"{name}.db" for name in ("later", "empty", "damaged", "text"))
    shutil.copy(good, later)
    with sqlite3.connect(later) as file:
        file.execute("UPDATE alembic_version SET version_num = '9999'")
    sqlite3.connect(empty).close()
    damaged.write_bytes(whole[:4096] + b"\xa5" * (len(whole) - 4096))
    text.write_text("no database", encoding="utf-8")
    torn = tmp_path / "torn.db"
    torn.write_bytes(whole[: len(whole) // 2])
    place = tmp_path / "new" / "fishplate.db"
    for file, says in (
        (later, "later version"),
        (empty, "holds no library"),
        (damaged, "damaged|can't be copied"),
        (torn, "damaged|can't be copied"),
        (text, "can't be copied"),
        (tmp_path / "none.db", "no such file"),
    ):
        with pytest.raises(BackupRefused, match=says):
            restore(file, place)
        assert not place.exists()
    assert list(place.parent.iterdir()) == []


def test_logs_are_never_mixed(sqlite_url, titled, tmp_path):
    store = Store(sqlite_url)
    store.create(titled("a"), "New")
    raw = tmp_path / "raw.db"
    for end in ("", "-wal"):
        shutil.copy(f"{path_of(store)}{end}", f"{raw}{end}")
    good = tmp_path / "copy.db"
    backup(path_of(store), good)
    place = tmp_path / "new" / "fishplate.db"
    with pytest.raises(BackupRefused, match=r"raw\.db-wal"):
        restore(raw, place)
    place.parent.mkdir(exist_ok=True)
    shutil.copy(f"{raw}-wal", f"{place}-wal")
    with pytest.raises(BackupRefused, match="move these files away"):
        restore(good, place)
    assert not place.exists()
    # As the sentence advises.
    folder = tmp_path / "own"
    folder.mkdir()
    for end in ("", "-wal"):
        shutil.copy(f"{raw}{end}", folder / f"fishplate.db{end}")
    assert backup(folder / "fishplate.db", tmp_path / "second.db").cases == 1
    store.close()


def test_postgresql_is_told_of_its_own_tools():
    with pytest.raises(BackupRefused, match=r"pg_dump .*plates.*pg_restore"):
        library_file("postgresql://db/plates")


# Copying the file alone, and deleting for good


def test_the_file_alone_has_its_tables_and_what_was_tidied(sqlite_url, titled, tmp_path):
    store = Store(sqlite_url)
    shutil.copy(path_of(store), tmp_path / "first.db")
    made = store.create(titled("a"), "New")
    store.tidy()
    shutil.copy(path_of(store), tmp_path / "second.db")
    first, second = (Store(f"sqlite:///{tmp_path}/{name}.db") for name in ("first", "second"))
    assert first.listing() == ()
    assert second.get(made.id) == made
    for one in (first, second, store):
        one.close()


def test_of_a_deleted_case_nothing_is_left_in_any_file_and_the_file_shrinks(sqlite_url, titled):
    store = Store(sqlite_url)
    store.create(titled("stays"), "New")
    small = path_of(store).stat().st_size
    at = store.create(titled("Patient Zebra"), "New")
    for n in range(200):
        at = store.save(at.id, at.case.model_copy(update={"note": f"{n} {'giraffe ' * 200}"}), at.version, "Edit")
    store.tidy()
    grown = path_of(store).stat().st_size
    with store.engine.connect() as connection:
        wanted = select(content.c.packed, content.c.hash).where(content.c.document_id == at.id)
        said = [bytes(part) for row in connection.execute(wanted) for part in row]
    assert len(said) == 2 * 201
    assert all(one in path_of(store).read_bytes() for one in said)
    store.delete(at.id)
    for file in path_of(store).parent.iterdir():
        held = file.read_bytes()
        assert b"Zebra" not in held, file
        assert not any(one in held for one in said), file
    shrunk = path_of(store).stat().st_size
    assert grown > small + 200 * 200
    assert shrunk < small + 20_000
    store.close()


def test_a_file_made_by_an_earlier_version_learns_to_shrink(sqlite_url, titled):
    store = Store(sqlite_url)
    made = store.create(titled("a"), "New")
    store.close()
    with sqlite3.connect(path_of(store)) as file:
        file.execute("PRAGMA journal_mode = DELETE")
        file.execute("PRAGMA auto_vacuum = NONE")
        file.execute("VACUUM")
        assert file.execute("PRAGMA auto_vacuum").fetchone() == (0,)
    file.close()
    again = Store(sqlite_url)
    assert again.get(made.id) == made
    with again.engine.connect() as connection:
        assert connection.exec_driver_sql("PRAGMA auto_vacuum").scalar() == 2
    again.close()


def test_what_is_deleted_while_somebody_reads_goes_soon_after(sqlite_url, titled):
    store = Store(sqlite_url)
    made = store.create(titled("Patient Zebra"), "New")
    reader = sqlite3.connect(path_of(store), isolation_level=None)
    reader.execute("BEGIN")
    reader.execute("SELECT count(*) FROM document").fetchone()
    store.delete(made.id)
    assert store.untidy
    reader.execute("COMMIT")
    reader.close()
    upkeep = Upkeep(store, every_s=0.02)
    deadline = time.monotonic() + 10
    while store.untidy and time.monotonic() < deadline:
        time.sleep(0.02)
    upkeep.close()
    for file in path_of(store).parent.iterdir():
        assert b"Zebra" not in file.read_bytes(), file
    store.close()
