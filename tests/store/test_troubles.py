"""A database in trouble: what was acknowledged is there, what was not is not, and the error says what to do."""

import re
import shutil
import subprocess
import sys
import tempfile
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from app.store import WRITES, Once, Stale, Store, Unavailable, Writes
from tests.postgres import unprivileged
from tests.store.test_writers import ENVIRONMENT
from tests.store.troubled import LONG, TROUBLES, path_of


def write_until_refused(store, document_id, titled, most=60):
    """Save edits until the database refuses; the versions acknowledged, and the refusal."""
    acknowledged = [store.get(document_id).version]
    for _ in range(most):
        case = titled(f"edit {acknowledged[-1] + 1}").model_copy(update={"note": LONG})
        try:
            saved = store.save(document_id, case, acknowledged[-1], "Edit", Once(f"edit-{acknowledged[-1]}", "x"))
        except Unavailable as refused:
            return acknowledged, refused
        acknowledged.append(saved.version)
    pytest.fail(f"{most} writes went through")


@pytest.mark.parametrize("name", TROUBLES)
def test_a_write_in_trouble_is_not_kept_and_can_be_made_afterwards(name, sqlite_url, titled):
    bring, what, remedy = TROUBLES[name]
    store = Store(sqlite_url)
    made = store.create(titled("a"), "New")
    mend = bring(store)
    noted = Writes()
    token = WRITES.set(noted)
    try:
        if name == "full":
            acknowledged, refused = write_until_refused(store, made.id, titled)
        else:
            with pytest.raises(Unavailable) as caught:
                store.save(made.id, titled("b"), 1, "Edit", Once("edit-1", "x"))
            acknowledged, refused = [1], caught.value
    finally:
        WRITES.reset(token)
    assert what in str(refused)
    assert remedy in str(refused)
    assert "; nothing was written. " in str(refused)
    assert refused.written is False
    assert (noted.kept, noted.doubtful) == (len(acknowledged) - 1, 0)
    mend()
    there = store.get(made.id)
    assert there.version == acknowledged[-1]
    assert len(store.revisions(made.id)) == len(acknowledged)
    # The same write again, with the same key, now that it can be made.
    last = store.save(made.id, titled("at last"), there.version, "Edit", Once(f"edit-{there.version}", "x"))
    assert last.version == acknowledged[-1] + 1
    store.close()


@pytest.mark.parametrize("name", ["damaged", "no database", "moved", "no table"])
def test_reading_in_trouble_says_the_same_and_speaks_of_no_write(name, sqlite_url, titled):
    bring, what, remedy = TROUBLES[name]
    store = Store(sqlite_url)
    made = store.create(titled("a"), "New")
    mend = bring(store)
    for ask in (lambda: store.get(made.id), store.listing):
        with pytest.raises(Unavailable, match=what) as refused:
            ask()
        assert remedy in str(refused.value)
        assert "written" not in str(refused.value)
    mend()
    assert store.get(made.id).id == made.id
    store.close()


@pytest.mark.parametrize("name", ["full", "read-only", "locked"])
def test_what_is_there_can_still_be_read(name, sqlite_url, titled):
    store = Store(sqlite_url)
    made = store.create(titled("a"), "New")
    mend = TROUBLES[name][0](store)
    assert store.get(made.id) == made
    assert [one.id for one in store.listing()] == [made.id]
    mend()
    store.close()


def test_a_file_taken_away_is_not_made_anew(sqlite_url, titled):
    store = Store(sqlite_url)
    store.create(titled("a"), "New")
    mend = TROUBLES["moved"][0](store)
    with pytest.raises(Unavailable):
        store.create(titled("b"), "New")
    store.engine.dispose()
    with pytest.raises(Unavailable):  # a new connection would make an empty file
        store.create(titled("b"), "New")
    assert not path_of(store).exists()
    mend()
    assert [one.title for one in store.listing()] == ["a"]
    store.close()


FILL = """
import resource, secrets, sys
from app.case import parse_case
from app.store import Store, Unavailable
store = Store(sys.argv[1])
at = store.get(sys.argv[2])
resource.setrlimit(resource.RLIMIT_FSIZE, (int(sys.argv[3]), resource.RLIM_INFINITY))
try:
    while True:
        at = store.save(at.id, at.case.model_copy(update={"note": secrets.token_hex(950)}), at.version, "Edit")
        print(at.version, flush=True)
except Unavailable as error:
    print("not ready" if store.trouble() else "ready")
    print(error, error.written)
"""


def test_a_file_that_may_not_grow_loses_nothing_acknowledged(sqlite_url, titled):
    """A limit of the system on the size of files (setrlimit(2), RLIMIT_FSIZE): writes fail in the midst of a file."""
    store = Store(sqlite_url)
    made = store.create(titled("a"), "New")
    limit = 800_000
    assert path_of(store).stat().st_size < limit
    command = [sys.executable, "-W", "error", "-c", FILL, sqlite_url, made.id, str(limit)]
    run = subprocess.run(command, capture_output=True, text=True, timeout=120, check=True, env=ENVIRONMENT)
    *acknowledged, health, sentence = run.stdout.splitlines()
    assert health == "not ready"
    assert len(acknowledged) > 5
    assert "the disk that holds the cases " in sentence
    assert sentence.endswith(("True", "False", "None"))
    known = sentence.endswith("False")
    kept = store.get(made.id).version
    assert kept == int(acknowledged[-1]) or (not known and kept == int(acknowledged[-1]) + 1)
    with store.engine.connect() as connection:
        assert connection.exec_driver_sql("PRAGMA integrity_check").all() == [("ok",)]
    store.close()


READ_ONLY = """
import os, pwd, sys
from app.store import Store, Unavailable
from app.case import parse_case
if sys.argv[2]:
    found = pwd.getpwnam(sys.argv[2])
    os.setgroups([]); os.setgid(found.pw_gid); os.setuid(found.pw_uid)
try:
    Store(sys.argv[1]).create(parse_case(sys.stdin.read()), "New")
except Unavailable as error:
    print(error, error.written)
"""


@pytest.mark.parametrize(
    ("file_mode", "folder_mode", "what"),
    [(0o444, 0o555, "can only be read|may not be opened"), (0o000, 0o755, "may not be opened")],
)
def test_a_folder_that_may_not_be_written_is_told_at_the_start(titled, file_mode, folder_mode, what):
    """As another user where the tests run as root, for whom permissions don't count."""
    # Not in pytest's folder, which is closed to other users.
    folder = Path(tempfile.mkdtemp(prefix="fishplate-ro-"))
    try:
        url = f"sqlite:///{folder}/fishplate.db"
        store = Store(url)
        made = store.create(titled("a"), "New")
        store.close()
        (folder / "fishplate.db").chmod(file_mode)
        folder.chmod(folder_mode)
        command = [sys.executable, "-W", "error", "-c", READ_ONLY, url, unprivileged() or ""]
        case = titled("b").model_dump_json()
        run = subprocess.run(
            command, input=case, capture_output=True, text=True, timeout=60, check=True, env=ENVIRONMENT
        )
        assert re.search(what, run.stdout), run.stdout
        assert run.stdout.endswith("False\n")
        folder.chmod(0o755)
        (folder / "fishplate.db").chmod(0o644)
        again = Store(url)
        assert [one.id for one in again.listing()] == [made.id]
        again.close()
    finally:
        shutil.rmtree(folder)


def test_a_commit_without_an_answer_is_not_said_to_be_undone(store_url, titled, monkeypatch):
    """The line to the server may break after COMMIT was sent: then nobody here can know."""
    store = Store(store_url)
    made = store.create(titled("a"), "New")
    dialect = store.engine.dialect
    commit = dialect.do_commit

    def lost(connection):
        commit(connection)
        raise dialect.loaded_dbapi.OperationalError("the line is broken")

    monkeypatch.setattr(dialect, "do_commit", lost)
    noted = Writes()
    token = WRITES.set(noted)
    with pytest.raises(Unavailable, match="it is not known whether the change was written") as told:
        store.save(made.id, titled("b"), 1, "Edit", Once("the-edit", "x"))
    WRITES.reset(token)
    assert (told.value.written, noted.kept, noted.doubtful) == (None, 0, 1)
    monkeypatch.undo()
    # It was kept; who sends it again with its key finds it, who sends it without one is told that it is stale.
    assert store.save(made.id, titled("b"), 1, "Edit", Once("the-edit", "x")).version == 2
    with pytest.raises(Stale):
        store.save(made.id, titled("b"), 1, "Edit")
    store.close()


def test_whoever_cannot_be_told_of_a_write_does_not_undo_it(sqlite_url, titled, caplog):
    def deaf(document_id, version):
        raise RuntimeError("nobody listens")

    store = Store(sqlite_url, deaf)
    made = store.create(titled("a"), "New")
    assert store.get(made.id) == made
    assert "nobody could be told" in caplog.text
    store.close()


@pytest.mark.parametrize("rest", [("-wal",), ("-wal", "-shm")])
def test_a_log_deleted_under_a_running_server_is_noticed_before_the_next_acknowledgement(sqlite_url, titled, rest):
    """What was in it is not lost: the connections that still hold it write it into the file as they close."""
    store = Store(sqlite_url)
    made = store.create(titled("a"), "New")
    saved = store.save(made.id, titled("b"), 1, "Edit")
    for end in rest:
        path_of(store).with_name(path_of(store).name + end).unlink()
    with pytest.raises(Unavailable, match="not where it was"):
        store.save(made.id, titled("c"), saved.version, "Edit")
    assert store.trouble().cause == "missing"
    store.close()
    again = Store(sqlite_url)
    assert again.get(made.id) == saved
    again.close()


def test_another_file_in_the_old_ones_place_is_noticed_before_the_next_acknowledgement(sqlite_url, titled):
    store = Store(sqlite_url)
    made = store.create(titled("a"), "New")
    store.tidy()
    other = path_of(store).with_name("other.db")
    shutil.copy(path_of(store), other)
    other.replace(path_of(store))
    with pytest.raises(Unavailable, match="not where it was"):
        store.save(made.id, titled("b"), 1, "Edit")
    assert store.trouble().cause == "missing"
    store.close()


def test_a_clock_that_goes_back_loses_nothing_and_mixes_nothing_up(store_url, titled, monkeypatch):
    """Order is by number, never by time: a clock may be set back by hours (as by NTP, RFC 5905, a step)."""
    store = Store(store_url)
    made = store.create(titled("a"), "New")

    class Earlier(datetime):
        @classmethod
        def now(cls, tz=None):
            return datetime.now(tz) - timedelta(hours=5)

    for module in ("statements", "once", "whatifs", "store"):
        monkeypatch.setattr(f"app.store.{module}.datetime", Earlier)
    second = store.save(made.id, titled("b"), 1, "Edit", Once("k", "x"))
    assert store.save(made.id, titled("b"), 1, "Edit", Once("k", "x")) == second
    assert [one.title for one in store.revisions(made.id)] == ["a", "b"]
    assert store.undo(made.id, 2).case.title == "a"
    assert store.redo(made.id, 3).case.title == "b"
    store.pin(made.id, 0)
    assert store.trouble() is None
    store.close()


@pytest.mark.postgres
def test_postgresql_down_and_up_again_loses_nothing_acknowledged(postgres_server, postgres_url, titled, monkeypatch):
    monkeypatch.setattr("app.store.probe.HELD_S", 0.0)
    store = Store(postgres_url)
    at = store.create(titled("a"), "New")
    at = store.save(at.id, titled("b"), at.version, "Edit")
    postgres_server.stop()
    try:
        with pytest.raises(Unavailable, match="doesn't answer; nothing was written") as refused:
            store.save(at.id, titled("c"), at.version, "Edit", Once("c", "x"))
        assert (refused.value.cause, refused.value.written) == ("silent", False)
        assert store.trouble().cause == "silent"
        with pytest.raises(Unavailable, match="doesn't answer"):
            Store(postgres_url)
    finally:
        postgres_server.start()
    assert store.trouble() is None
    assert store.get(at.id) == at
    assert store.save(at.id, titled("c"), at.version, "Edit", Once("c", "x")).version == at.version + 1
    store.close()
