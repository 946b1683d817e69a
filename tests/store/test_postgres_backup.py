"""Backup and restore with PostgreSQL's own tools, by the very commands that ``fishplate backup`` names."""

import os
import re
import shlex
import subprocess
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from threading import Event

import pytest
from fastapi.testclient import TestClient

from app.case import Case
from app.case.commands import SetNote
from app.case.edits import apply
from app.store import RevisionInfo, Snapshot, Store, WhatIf
from app.store.backup import BackupRefused, library_file
from app.web import Settings, create_app
from tests.postgres import ROOM_S, Server, tool

pytestmark = pytest.mark.postgres


def said(url: str, name: str) -> str:
    """The command of this name, as the refusal tells it."""
    with pytest.raises(BackupRefused) as refused:
        library_file(url)
    found = re.search(rf"{name} --.*?(?:FILE {url_name(url)}|{url_name(url)} FILE)", str(refused.value))
    assert found is not None
    return found[0]


def url_name(url: str) -> str:
    return url.partition("@/")[2].partition("?")[0]


def run(server: Server, command: str, file: Path) -> None:
    """A command that has ``FILE`` in it, as somebody who may enter the database runs it."""
    name, *words = shlex.split(command)
    there = {"PGHOST": str(server.folder), "PGUSER": "fishplate"}
    done = subprocess.run(
        [tool(name), *(word.replace("FILE", str(file)) for word in words)],
        env={**os.environ, **there},
        capture_output=True,
        text=True,
        timeout=ROOM_S,
        check=False,
    )
    assert done.returncode == 0, done.stderr


def noted(case: Case, number: int) -> Case:
    return apply(case, SetNote(note=f"note {number}"))


def test_the_readme_says_the_same_commands(postgres_server: Server) -> None:
    readme = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")
    for name in ("pg_dump", "pg_restore"):
        assert f"`{said(postgres_server.url('NAME'), name)}`" in readme


@dataclass(frozen=True)
class Dumped:
    """A dump that was taken while somebody wrote: what was left in peace, and how much of the rest was answered."""

    file: Path
    quiet: Snapshot
    history: tuple[RevisionInfo, ...]
    whatifs: tuple[WhatIf, ...]
    busy: Snapshot
    before: int
    after: int

    def is_in(self, url: str) -> int:
        """Hold the library against it; answers the version of the case that was edited meanwhile."""
        store = Store(url)
        try:
            assert store.get(self.quiet.id) == self.quiet
            assert store.revisions(self.quiet.id) == self.history
            assert store.whatifs(self.quiet.id) == self.whatifs
            found = store.get(self.busy.id)
            assert self.before < found.version <= self.after + 1
            assert found.case == noted(self.busy.case, found.version - 2)
            assert [one.title for one in store.listing()] == ["Edited meanwhile", "Left in peace"]
            return found.version
        finally:
            store.close()


@pytest.fixture
def url(postgres_server: Server) -> Iterator[str]:
    with postgres_server.new_database() as made:
        yield made


@pytest.fixture
def dumped(postgres_server: Server, url: str, titled: Callable[[str], Case], tmp_path: Path) -> Dumped:
    file = tmp_path / "library.dump"
    store = Store(url)
    made = store.create(titled("Left in peace"), "New")
    store.pin(made.id, 0, "As it was")
    store.save(made.id, noted(made.case, 1), 1, "Note 1")
    quiet = store.undo(made.id, 2)
    busy = store.create(titled("Edited meanwhile"), "New")
    answered: list[int] = []
    enough = Event()

    def write() -> None:
        while not enough.is_set():
            store.save(busy.id, noted(busy.case, len(answered)), len(answered) + 1, "Note")
            answered.append(len(answered))

    with ThreadPoolExecutor(1) as pool:
        writing = pool.submit(write)
        try:
            while len(answered) < 5 and not writing.done():
                enough.wait(0.01)
            before = len(answered)
            run(postgres_server, said(url, "pg_dump"), file)
        finally:
            enough.set()
        writing.result()
    assert len(answered) > before
    kept = Dumped(file, quiet, store.revisions(quiet.id), store.whatifs(quiet.id), busy, before, len(answered))
    store.close()
    return kept


def test_it_goes_back_over_what_has_happened_since(postgres_server: Server, url: str, dumped: Dumped) -> None:
    store = Store(url)
    store.delete(dumped.quiet.id)
    store.close()
    run(postgres_server, said(url, "pg_restore"), dumped.file)
    dumped.is_in(url)


def test_it_opens_in_an_empty_database(postgres_server: Server, dumped: Dumped, tmp_path: Path) -> None:
    quiet, busy = dumped.quiet, dumped.busy
    with postgres_server.new_database() as elsewhere:
        run(postgres_server, said(elsewhere, "pg_restore"), dumped.file)
        version = dumped.is_in(elsewhere)
        settings = Settings(data_dir=tmp_path / "data", database_url=elsewhere)
        with TestClient(create_app(settings), base_url="http://127.0.0.1") as client:
            for page in ("/", f"/cases/{quiet.id}", f"/cases/{busy.id}/plan", "/health/ready"):
                assert client.get(page).status_code == 200, page
            # What is written gets numbers of its own: the counters came along.
            undone = {"If-Match": f'"{quiet.version}"'}
            assert client.post(f"/api/v1/cases/{quiet.id}/redo", json={}, headers=undone).status_code == 200
            edit = {"edit": {"op": "set_note", "note": "after the restore"}}
            there = {"If-Match": f'"{version}"'}
            assert client.post(f"/api/v1/cases/{busy.id}/edits", json=edit, headers=there).status_code == 200
