"""The whole library as one zip: every case's file, and an index."""

import json
from io import BytesIO
from zipfile import ZIP_DEFLATED, ZipFile, ZipInfo

from app.case import parse_case
from app.store import Store

INDEX = "index.json"
FORMAT = "fishplate-library/1"
EARLIEST = (1980, 1, 1, 0, 0, 0)  # the first moment a zip can name: the same cases make the same bytes
READABLE = 0o100644 << 16


def library_zip(store: Store) -> bytes:
    """Every document's current case in a zip; what-ifs and history are not in it.

    File names are made of the title and the document's id. ``index.json`` lists them by title. The same cases give the
    same bytes.
    """
    files = sorted(store.export_library())
    held = BytesIO()
    with ZipFile(held, "w", ZIP_DEFLATED) as archive:
        for name, content in ((INDEX, _index(files)), *files):
            entry = ZipInfo(name, EARLIEST)
            entry.compress_type, entry.external_attr, entry.create_system = ZIP_DEFLATED, READABLE, 3
            archive.writestr(entry, content)
    return held.getvalue()


def is_index(document: object) -> bool:
    """Whether a decoded JSON document is the index of a library."""
    return isinstance(document, dict) and document.get("format") == FORMAT


def _index(files: list[tuple[str, bytes]]) -> bytes:
    cases = [{"title": parse_case(content).title, "file": name} for name, content in files]
    cases.sort(key=lambda entry: (entry["title"], entry["file"]))
    return json.dumps({"format": FORMAT, "cases": cases}, indent=2, ensure_ascii=False).encode() + b"\n"
