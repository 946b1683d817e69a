"""A department's year beside an empty library: ``python -m tests.bench.bench_year``; compare ratios, never times.

1,500 cases of 100 revisions each (``--cases``, ``--revisions``) are written by SQL; then both libraries are asked for
the same in turn, through the whole application but the network, and for a backup as an operator is: by the command. The
target is 1.5 times the empty library's time. What carries everything can't keep to it: the whole zip and the backup
without the program's start are told beside what they can't beat, an entry's share of a zip and a plain copy.
"""

import argparse
import json
import os
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from contextlib import ExitStack
from datetime import UTC, datetime, timedelta
from functools import partial
from hashlib import sha256
from pathlib import Path

from fastapi.testclient import TestClient
from sqlalchemy import insert

from app.case import parse_case
from app.store import Store, lines
from app.store.backup import backup
from app.store.content import body_of
from app.store.engine import for_writing
from app.store.packing import packed
from app.store.tables import content, document, revision
from app.web import Settings, create_app
from tests.cases import humerus

ROUNDS = 30
COMMANDS = 5
TARGET = 1.5  # times the empty library's
FIRST_OF_YEAR = datetime(2025, 1, 1, tzinfo=UTC)


def fill(folder: Path, cases: int, revisions: int) -> None:
    """Write the year: every case edited ``revisions`` times, the cases one after another through the year."""
    store = Store(f"sqlite:///{folder}/fishplate.db")
    case = parse_case(json.dumps(humerus() | {"title": "TITLE", "note": "NOTE"}))
    body = body_of(case)
    with for_writing(store.engine).begin() as connection:
        for number in range(cases):
            begun = FIRST_OF_YEAR + timedelta(days=365 * number / cases)
            first = number * revisions + 1
            name, title = f"year{number:08d}", f"Case {number}"
            connection.execute(
                insert(document),
                {
                    "id": name,
                    "version": revisions,
                    "head_id": first + revisions - 1,
                    "created_at": begun,
                    "updated_at": begun,
                },
            )
            lines.add(connection, name, case.model_copy(update={"title": title}))
            rows, said = [], []
            for at in range(first, first + revisions):
                text = body.replace(b"TITLE", title.encode()).replace(b"NOTE", f"as planned at step {at}".encode())
                key = sha256(text).digest()
                said.append({"document_id": name, "hash": key, "packed": packed(text)})
                rows.append(
                    {
                        "id": at,
                        "document_id": name,
                        "previous_id": at - 1 if at > first else None,
                        "title": title,
                        "content_hash": key,
                        "label": "Edit",
                        "created_at": begun,
                    }
                )
            connection.execute(insert(content), said)
            connection.execute(insert(revision), rows)
    store.close()


def timed(do: Callable[[], object]) -> float:
    """Milliseconds."""
    began = time.perf_counter()
    do()
    return 1000 * (time.perf_counter() - began)


class Library:
    """One of the two, with a case that is edited."""

    def __init__(self, folder: Path, stack: ExitStack) -> None:
        self.file = folder / "fishplate.db"
        app = create_app(Settings(data_dir=folder))
        self.client = stack.enter_context(TestClient(app, base_url="http://127.0.0.1"))
        self.case = self.client.post("/api/v1/cases", json=humerus()).json()["id"]
        self.version = 1

    def get(self, path: str) -> None:
        """Fetch an address."""
        answer = self.client.get(path.format(case=self.case))
        assert answer.status_code == 200, answer.text

    def edit(self) -> None:
        """One edit."""
        body = {"edit": {"op": "set_gap", "target": 0, "gap_mm": 0.5 + self.version % 3}}
        headers = {"If-Match": f'"{self.version}"', "Idempotency-Key": f'"edit-{self.version}"'}
        answer = self.client.post(f"/api/v1/cases/{self.case}/edits", json=body, headers=headers)
        assert answer.status_code == 200, answer.text
        self.version += 1


ASKED: dict[str, Callable[[Library], None]] = {
    "list (first page)": lambda one: one.get("/"),
    "list (words)": lambda one: one.get("/?q=humerus+12a2+case&sort=title"),
    "small picture": lambda one: one.get("/cases/{case}/thumbnail.svg?version=1"),
    "list (API)": lambda one: one.get("/api/v1/cases"),
    "open": lambda one: one.get("/cases/{case}"),
    "edit": Library.edit,
    "export a case": lambda one: one.get("/cases/{case}/export"),
    "ready": lambda one: one.get("/health/ready"),
}


def copy(source: Path, target: Path) -> None:
    """A plain copy, on the disk."""
    shutil.copyfile(source, target)
    with target.open("rb") as file:
        os.fsync(file.fileno())


def order_backup(library: Path, target: Path) -> None:
    """A backup by the command."""
    subprocess.run(
        [sys.executable, "-m", "app.cli", "backup", "--data", library, target], check=True, capture_output=True
    )


def compared(name: str, small: float, large: float) -> str:
    """A line of the answer."""
    beyond = " (beyond the target)" if large > TARGET * small else ""
    return f"{name}: {small:.1f} ms empty, {large:.1f} ms with a year: × {large / small:.2f}{beyond}\n"


def main() -> None:
    """Fill, measure in turn, say the ratios."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--cases", type=int, default=1500)
    parser.add_argument("--revisions", type=int, default=100)
    options = parser.parse_args()
    say = sys.stdout.write
    with tempfile.TemporaryDirectory() as held, ExitStack() as stack:
        folder = Path(held)
        filled_ms = timed(lambda: fill(folder / "year", options.cases, options.revisions))
        empty, year = (Library(folder / name, stack) for name in ("empty", "year"))
        megabytes = year.file.stat().st_size / 1e6
        say(f"{options.cases} cases, {options.cases * options.revisions} revisions: {megabytes:.0f} MB, ")
        each = 1e6 * megabytes / (options.cases * options.revisions)
        say(f"{each:.0f} bytes a revision, written in {filled_ms / 1000:.0f} s\n")
        for name, ask in ASKED.items():
            times: tuple[list[float], list[float]] = ([], [])
            for _ in range(ROUNDS + 3):
                for kept, library in zip(times, (empty, year), strict=True):
                    kept.append(timed(partial(ask, library)))
            small, large = (statistics.median(kept[3:]) for kept in times)
            say(compared(name, small, large))
        commands: tuple[list[float], list[float]] = ([], [])
        for number in range(COMMANDS):
            for kept, library in zip(commands, (empty, year), strict=True):
                kept.append(
                    timed(partial(order_backup, library.file.parent, folder / f"{library.file.parent.name}-{number}"))
                )
        say(compared("backup (command)", *(statistics.median(kept) for kept in commands)))
        say("what carries everything grows with it:\n")
        small, zipped = (timed(lambda one=one: one.get("/library.zip")) for one in (empty, year))
        say(f"the whole zip: {small:.1f} ms empty; {zipped / 1000:.2f} s with a year, × {zipped / small:.0f}: ")
        say(f"{zipped / (options.cases + 1):.2f} ms a case\n")
        copied = timed(lambda: copy(year.file, folder / "plain.db"))
        backed = timed(lambda: backup(year.file, folder / "backup.db"))
        small = timed(lambda: backup(empty.file, folder / "small.db"))
        say(f"backup: {small:.0f} ms empty; {backed / 1000:.2f} s with a year, × {backed / small:.0f}: ")
        say(f"× {backed / copied:.1f} of a plain copy ({copied / 1000:.2f} s), every row and index checked\n")


if __name__ == "__main__":
    main()
