"""The whole library as one zip: every case's file, and an index."""

import json
from collections.abc import Sequence
from io import BytesIO
from zipfile import ZIP_DEFLATED, ZipFile, ZipInfo

from app.store import Exported, Past, Store

INDEX = "index.json"
UNREADABLE = "unreadable"
FORMAT = "fishplate-library/1"
HISTORY = "history"
HISTORY_FORMAT = "fishplate-history/1"
EARLIEST = (1980, 1, 1, 0, 0, 0)  # the first moment a zip can name: the same cases make the same bytes
READABLE = 0o100644 << 16


def library_zip(store: Store, *, history: bool = False) -> bytes:
    """Every document's current case in a zip, with its what-ifs, and on request the history of each.

    File names are made of the title and the document's id. ``index.json`` lists them by title. What is stored but
    can't be read goes in as it is, in the folder ``unreadable``, and the index says why. The same cases give the same
    bytes. Histories are in the folder ``history``, under the names of their cases with the ending ``.jsonl``, for
    reading: an import passes over them.
    """
    kept = store.export_library()
    held = BytesIO()
    with ZipFile(held, "w", ZIP_DEFLATED) as archive:
        _put(archive, INDEX, _index(kept))
        for one in kept:
            _put(archive, _place(one), one.content)
        if history:
            for document_id, name, past in store.export_histories():
                _put(archive, f"{HISTORY}/{name}l", _history(document_id, past))
    return held.getvalue()


def _put(archive: ZipFile, name: str, content: bytes) -> None:
    entry = ZipInfo(name, EARLIEST)
    entry.compress_type, entry.external_attr, entry.create_system = ZIP_DEFLATED, READABLE, 3
    archive.writestr(entry, content)


def _history(document_id: str, past: tuple[Past, ...]) -> bytes:
    """JSON Lines, a revision each: not a case file, and as long as it likes."""
    lines = [
        {
            "format": HISTORY_FORMAT,
            "id": document_id,
            "revision": one.id,
            "after": one.previous_id,
            "label": one.label,
            "time": one.created_at.isoformat(),
            "current": one.current,
            **_as_stored(one.body),
        }
        for one in past
    ]
    return "".join(f"{json.dumps(line, ensure_ascii=False)}\n" for line in lines).encode("utf-8", "replace")


def _as_stored(body: str) -> dict[str, object]:
    try:
        return {"case": json.loads(body)}
    except ValueError:  # damaged; what there is may still be of use
        return {"unreadable": body}


def _place(one: Exported) -> str:
    return f"{UNREADABLE}/{one.name}" if one.fault else one.name


def is_index(document: object) -> bool:
    """Whether a decoded JSON document is the index of a library."""
    return isinstance(document, dict) and document.get("format") == FORMAT


def _index(kept: Sequence[Exported]) -> bytes:
    cases = [{"title": one.title, "file": one.name} for one in kept if not one.fault]
    lost = [{"title": one.title, "file": _place(one), "reason": one.fault} for one in kept if one.fault]
    for entries in (cases, lost):
        entries.sort(key=lambda entry: (entry["title"], entry["file"]))
    index = {"format": FORMAT, "cases": cases, **({UNREADABLE: lost} if lost else {})}
    return json.dumps(index, indent=2, ensure_ascii=False).encode() + b"\n"
