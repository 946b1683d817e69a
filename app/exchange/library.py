"""The whole library as one zip: every case's file, and an index."""

import json
from io import BytesIO
from zipfile import ZIP_DEFLATED, ZipFile, ZipInfo

from app.store import Exported, Store

INDEX = "index.json"
UNREADABLE = "unreadable"
FORMAT = "fishplate-library/1"
EARLIEST = (1980, 1, 1, 0, 0, 0)  # the first moment a zip can name: the same cases make the same bytes
READABLE = 0o100644 << 16


def library_zip(store: Store) -> bytes:
    """Every document's current case in a zip, with its what-ifs; the history is not in it.

    File names are made of the title and the document's id. ``index.json`` lists them by title. What is stored but
    can't be read goes in as it is, in the folder ``unreadable``, and the index says why. The same cases give the same
    bytes.
    """
    kept = sorted(store.export_library(), key=lambda one: one.name)
    held = BytesIO()
    with ZipFile(held, "w", ZIP_DEFLATED) as archive:
        for name, content in ((INDEX, _index(kept)), *((_place(one), one.content) for one in kept)):
            entry = ZipInfo(name, EARLIEST)
            entry.compress_type, entry.external_attr, entry.create_system = ZIP_DEFLATED, READABLE, 3
            archive.writestr(entry, content)
    return held.getvalue()


def _place(one: Exported) -> str:
    return f"{UNREADABLE}/{one.name}" if one.fault else one.name


def is_index(document: object) -> bool:
    """Whether a decoded JSON document is the index of a library."""
    return isinstance(document, dict) and document.get("format") == FORMAT


def _index(kept: list[Exported]) -> bytes:
    cases = [{"title": one.title, "file": one.name} for one in kept if not one.fault]
    lost = [{"title": one.title, "file": _place(one), "reason": one.fault} for one in kept if one.fault]
    for entries in (cases, lost):
        entries.sort(key=lambda entry: (entry["title"], entry["file"]))
    index = {"format": FORMAT, "cases": cases, **({UNREADABLE: lost} if lost else {})}
    return json.dumps(index, indent=2, ensure_ascii=False).encode() + b"\n"
