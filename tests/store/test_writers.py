"""Several writers at once, and writers killed at any moment: what was acknowledged is there."""

import os
import random
import signal
import subprocess
import sys
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from threading import Barrier

import pytest

import app
from app.store import Once, Stale, Store

EDITS = 60
KILLS = 5
ENVIRONMENT = {**os.environ, "PYTHONPATH": str(Path(app.__file__).parents[1])}


def edit_until_done(store, document_id, titled, who):
    """Save edits at whatever version is current; answer the revision ids of the acknowledged ones."""
    version, acknowledged = 1, {}
    while len(acknowledged) < EDITS:
        label = f"{who} {len(acknowledged)}"
        try:
            saved = store.save(document_id, titled(label), version, label)
        except Stale as stale:
            version = stale.current_version
        else:
            acknowledged[saved.revision_id] = label
            version = saved.version
    return acknowledged


def test_two_writers_lose_no_acknowledged_edit(store_url, titled):
    # A store each, as two processes would have.
    stores = [Store(store_url), Store(store_url)]
    document_id = stores[0].create(titled("a"), "New").id
    together = Barrier(2, timeout=10)

    def run(number):
        together.wait()
        return edit_until_done(stores[number], document_id, titled, f"writer {number}")

    with ThreadPoolExecutor(2) as pool:
        first, second = pool.map(run, range(2))
    kept = {r.id: r for r in stores[0].revisions(document_id)}
    current = stores[0].get(document_id)
    for store in stores:
        store.close()
    assert not first.keys() & second.keys()
    assert current.version == 1 + 2 * EDITS
    assert len(kept) == 1 + 2 * EDITS
    assert {number: kept[number].label for number in first | second} == first | second
    line, at = [], current.revision_id  # every edit was made upon the one before, none beside it
    while at is not None:
        line.append(at)
        at = kept[at].previous_id
    assert sorted(line) == sorted(kept)


def test_of_writers_at_one_version_exactly_one_wins(store, titled):
    made = store.create(titled("a"), "New")
    writers = 8
    together = Barrier(writers, timeout=10)

    def attempt(number):
        together.wait()
        try:
            return store.save(made.id, titled(f"by {number}"), 1, "Rename")
        except Stale as stale:
            return stale.current_version

    with ThreadPoolExecutor(writers) as pool:
        answers = list(pool.map(attempt, range(writers)))
    won = [answer for answer in answers if not isinstance(answer, int)]
    assert [answer for answer in answers if isinstance(answer, int)] == [2] * (writers - 1)
    assert [store.get(made.id)] == won


def test_the_same_case_imported_by_many_at_once_is_kept_once(store, titled):
    together = Barrier(6, timeout=10)

    def attempt(_):
        together.wait()
        return store.import_case(titled("a"))

    with ThreadPoolExecutor(6) as pool:
        answers = list(pool.map(attempt, range(6)))
    assert sorted(created for _, created in answers) == [False] * 5 + [True]
    assert {snapshot.id for snapshot, _ in answers} == {entry.id for entry in store.listing()}


def killed_writer(url, document_id, moment_s):
    """Run a writer, kill it some time after its first answer; what it had acknowledged, as (version, revision id)."""
    command = [sys.executable, str(Path(__file__).parent / "endless_writer.py"), url, document_id]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True, env=ENVIRONMENT) as writer:
        lines = [writer.stdout.readline()]
        time.sleep(moment_s)
        writer.send_signal(signal.SIGKILL)
        lines += writer.stdout.readlines()
        writer.wait(10)
    assert writer.returncode == -signal.SIGKILL
    if not lines[-1].endswith("\n"):
        lines.pop()
    return [tuple(map(int, line.split())) for line in lines]


def test_killing_the_process_loses_nothing_acknowledged(store_url, titled):
    chance = random.Random(20)
    store = Store(store_url)
    document_id = store.create(titled("edit 1"), "New").id
    acknowledged = {}
    for _ in range(KILLS):
        told = killed_writer(store_url, document_id, chance.uniform(0, 0.15))
        assert told
        acknowledged |= dict(told)
        # The last edit may have been kept without anybody hearing of it, but no more than that one.
        assert max(acknowledged) <= store.get(document_id).version <= max(acknowledged) + 1
        kept = {r.id: r.label for r in store.revisions(document_id)}
        for version, revision_id in told:
            assert kept[revision_id] == f"edit {version}"
            assert store.revision(document_id, revision_id) == titled(f"edit {version}")
        if store.engine.dialect.name == "sqlite":
            with store.engine.connect() as connection:
                assert connection.exec_driver_sql("PRAGMA integrity_check").all() == [("ok",)]
                assert connection.exec_driver_sql("PRAGMA foreign_key_check").all() == []
        # Whoever sends that one again, with its key, has it kept once, whether it had been kept or not.
        last = max(acknowledged)
        name = f"edit {last + 1}"
        again = store.save(document_id, titled(name), last, name, Once(name, name))
        assert again.version == store.get(document_id).version == last + 1
        assert [one.label for one in store.revisions(document_id)].count(name) == 1
        acknowledged[again.version] = again.revision_id
    assert len(acknowledged) > 2 * KILLS
    current = store.get(document_id)
    assert store.save(document_id, titled("after"), current.version, "After").version == current.version + 1
    store.close()


@pytest.mark.parametrize("moment_s", [0.0, 0.02, 0.1, 0.2])
def test_killing_the_first_start_leaves_a_folder_to_start_in(sqlite_url, titled, moment_s):
    code = "import sys; from app.store import Store; print(flush=True); Store(sys.argv[1]); input()"
    command = [sys.executable, "-c", code, sqlite_url]
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, env=ENVIRONMENT) as starting:
        starting.stdout.readline()
        time.sleep(moment_s)
        starting.kill()
        starting.wait(10)
    store = Store(sqlite_url)
    assert store.create(titled("a"), "New").version == 1
    store.close()
