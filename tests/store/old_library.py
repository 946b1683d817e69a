"""A small library as this version of the program leaves it: ``python -m tests.store.old_library`` writes it down.

Run it before a migration is added, and keep the two files: the tests open them with every later version. ``NNNN.sql``
is the database, table by table, as SQLite itself would write it out; ``NNNN.json`` is what the program of that time
answered about it.
"""

import json
import sqlite3
import tempfile
from pathlib import Path
from typing import Any

from app.case import Case, parse_case
from app.store import Store
from app.store.migrate import LATEST

FOLDER = Path(__file__).parent / "old"
ROOT = Path(__file__).parents[2]


def told(store: Store) -> dict[str, Any]:
    """What the program answers about all documents, but for moments in time."""
    return {entry.id: _document(store, entry.id) for entry in sorted(store.listing(), key=lambda entry: entry.id)}


def _document(store: Store, document_id: str) -> dict[str, Any]:
    at = store.get(document_id)
    return {
        "version": at.version,
        "case": at.case.model_dump(mode="json", exclude_defaults=True),
        "revision": at.revision_id,
        "labels": [at.label, at.undo_label, at.redo_label],
        "revisions": [[one.id, one.previous_id, one.label, one.title] for one in store.revisions(document_id)],
        "titles": [store.revision(document_id, one.id).title for one in store.revisions(document_id)],
        "whatifs": [[one.id, one.name, one.target, one.revision_id] for one in store.whatifs(document_id)],
    }


def titled(case: Case, title: str) -> Case:
    """The case under another title."""
    return case.model_copy(update={"title": title})


def fill(store: Store) -> None:
    """Three documents: one with a fork in its history and two what-ifs, one just begun, and a copy; one is deleted."""
    forearm, humerus = (
        parse_case((ROOT / "sample_cases" / name).read_bytes())
        for name in sorted(path.name for path in (ROOT / "sample_cases").glob("*.json"))[:2]
    )
    forked = store.create(titled(forearm, "骨折, Größe 5 µm"), "New case")
    store.pin(forked.id, 0, "As begun")
    second = store.save(forked.id, titled(forearm, "left by undo"), 1, "Rename")
    store.pin(forked.id, 0)
    store.undo(forked.id, second.version)
    store.save(forked.id, titled(forearm, "the other way"), 3, "Rename, otherwise")
    store.undo(forked.id, 4)
    store.create(humerus, "Copy of a sample case")
    store.delete(store.create(titled(humerus, "gone"), "New case").id)
    store.duplicate(forked.id, "A copy")
    store.shared_secret(b"kept for cookies")


def write() -> None:
    """Make the library and write it down."""
    FOLDER.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "fishplate.db"
        store = Store(f"sqlite:///{file}")
        fill(store)
        answers = told(store)
        store.close()
        connection = sqlite3.connect(file)
        (FOLDER / f"{LATEST}.sql").write_text("\n".join(connection.iterdump()) + "\n", encoding="utf-8")
        connection.close()
    kept = json.dumps(answers, indent=1, ensure_ascii=False, sort_keys=True)
    (FOLDER / f"{LATEST}.json").write_text(kept + "\n", encoding="utf-8")


if __name__ == "__main__":
    write()
