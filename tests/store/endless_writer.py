"""Saves edits of one document until killed, and prints version and revision id of each acknowledged one."""

import sys

from app.store import Once, Store


def main(url: str, document_id: str) -> None:
    store = Store(url)
    at = store.get(document_id)
    while True:
        name = f"edit {at.version + 1}"
        at = store.save(document_id, at.case.model_copy(update={"title": name}), at.version, name, Once(name, name))
        sys.stdout.write(f"{at.version} {at.revision_id}\n")
        sys.stdout.flush()


if __name__ == "__main__":
    main(sys.argv[1], sys.argv[2])
