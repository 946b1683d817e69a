"""The store: documents whose every edit is kept, shared by threads, processes and machines.

A document's revisions form a tree. An edit appends a revision after the head; undo moves the head to the one before;
redo moves it to the newest one after. No edit deletes anything, and each of the three raises the version.
"""

from collections.abc import Callable, Iterator
from contextlib import contextmanager

from sqlalchemy import Connection, Engine, select
from sqlalchemy.exc import InterfaceError, OperationalError
from sqlalchemy.exc import TimeoutError as NoConnectionFree

from app.case import Case, apply, parse_case, parse_edit
from app.case.fields import item
from app.store import statements as sql
from app.store import whatifs as pinned
from app.store.cache import RecentCases
from app.store.changes import GONE
from app.store.content import file_bytes, file_name
from app.store.engine import for_writing, open_engine
from app.store.errors import NotFound, NothingToRedo, NothingToUndo, Unavailable
from app.store.migrate import migrate
from app.store.records import Listing, RevisionInfo, Snapshot, WhatIf


def _tell_nobody(_document_id: str, _version: int) -> None:
    pass


@contextmanager
def _transaction(engine: Engine) -> Iterator[Connection]:
    try:
        with engine.begin() as connection:
            yield connection
    except (OperationalError, InterfaceError, NoConnectionFree) as error:
        message = "the database doesn't answer; whether a write was kept is not known"
        raise Unavailable(message) from error


class Store:
    """Documents in one database. Every method is one transaction, and safe to call from any thread.

    ``on_change`` is called after each committed write with the document's id and new version, or ``GONE`` for the
    version after a delete. Every method raises ``Unavailable`` when the database doesn't answer.
    """

    def __init__(self, url: str | Engine, on_change: Callable[[str, int], None] = _tell_nobody) -> None:
        """Open the database, bringing its tables up to date; an engine must come from ``open_engine``.

        Raises:
            ValueError: the URL is neither SQLite in a file nor PostgreSQL.
            LaterDatabase: written by a later version of the program.
        """
        self.engine = open_engine(url) if isinstance(url, str) else url
        self._writer = for_writing(self.engine)
        self._on_change = on_change
        self._cases = RecentCases()
        try:
            migrate(self.engine)
        except BaseException:
            self.close()
            raise

    def close(self) -> None:
        """Close all connections."""
        self.engine.dispose()

    def ready(self) -> bool:
        """Whether the database answers."""
        try:
            with _transaction(self.engine) as connection:
                connection.execute(select(1))
        except Unavailable:
            return False
        return True

    def shared_secret(self, offered: bytes) -> bytes:
        """The secret of all processes that use the database; the first one ever offered becomes it."""
        with _transaction(self._writer) as connection:
            return sql.shared_secret(connection, offered)

    def create(self, case: Case, label: str) -> Snapshot:
        """Keep a case as a new document."""
        with _transaction(self._writer) as connection:
            snapshot = self._create(connection, case, label)
        return self._committed(snapshot)

    def get(self, document_id: str) -> Snapshot:
        """The document as it stands.

        Raises:
            NotFound: no such document.
        """
        with _transaction(self.engine) as connection:
            return self._snapshot(connection, document_id)

    def versions(self, *document_ids: str) -> dict[str, int]:
        """Current versions of those of the documents that exist; cheaper than getting them."""
        with _transaction(self.engine) as connection:
            return sql.versions(connection, document_ids)

    def listing(self) -> tuple[Listing, ...]:
        """All documents, last changed first."""
        with _transaction(self.engine) as connection:
            return sql.listing(connection)

    def save(self, document_id: str, case: Case, expected_version: int, label: str) -> Snapshot:
        """Append a revision after the current one; the label says what the edit was.

        Raises:
            NotFound: no such document.
            Stale: the version is another one; nothing is written.
        """
        with _transaction(self._writer) as connection:
            head_id = sql.claim(connection, document_id, expected_version)
            revision_id = sql.add_revision(connection, document_id, head_id, case, label)
            snapshot = self._move(connection, document_id, revision_id, case)
        return self._committed(snapshot)

    def undo(self, document_id: str, expected_version: int) -> Snapshot:
        """Go back to the revision before.

        Raises:
            NotFound: no such document.
            Stale: the version is another one; nothing is written.
            NothingToUndo: this is the first revision.
        """
        with _transaction(self._writer) as connection:
            sql.claim(connection, document_id, expected_version)
            previous_id = sql.position(connection, document_id).previous_id
            if previous_id is None:
                message = "nothing to undo: this is the first revision"
                raise NothingToUndo(message)
            snapshot = self._move(connection, document_id, previous_id)
        return self._committed(snapshot)

    def redo(self, document_id: str, expected_version: int) -> Snapshot:
        """Go forward to the newest of the revisions that follow.

        Raises:
            NotFound: no such document.
            Stale: the version is another one; nothing is written.
            NothingToRedo: no revision follows.
        """
        with _transaction(self._writer) as connection:
            sql.claim(connection, document_id, expected_version)
            next_id = sql.position(connection, document_id).next_id
            if next_id is None:
                message = "nothing to redo: no revision follows this one"
                raise NothingToRedo(message)
            snapshot = self._move(connection, document_id, next_id)
        return self._committed(snapshot)

    def duplicate(self, document_id: str, title: str) -> Snapshot:
        """A new document with the current case under another title, and with its what-ifs.

        Raises:
            NotFound: no such document.
            InvalidCase: the title can't be one.
        """
        with _transaction(self._writer) as connection:
            original = self._snapshot(connection, document_id)
            case = apply(original.case, parse_edit({"op": "set_title", "title": title}))
            snapshot = self._create(connection, case, f"Duplicate of {original.case.title}")
            self._copy_whatifs(connection, original, snapshot)
        return self._committed(snapshot)

    def delete(self, document_id: str) -> None:
        """Delete a document with all its revisions, for good: what somebody wants gone must be gone.

        Raises:
            NotFound: no such document.
        """
        with _transaction(self._writer) as connection:
            sql.remove(connection, document_id)
            sql.notify(connection, document_id, GONE)
        self._on_change(document_id, GONE)

    def revisions(self, document_id: str) -> tuple[RevisionInfo, ...]:
        """All revisions of a document, oldest first, those left by undo included.

        Raises:
            NotFound: no such document.
        """
        with _transaction(self.engine) as connection:
            found = sql.revisions(connection, document_id)
        if not found:
            raise sql.missing(document_id)
        return found

    def revision(self, document_id: str, revision_id: int) -> Case:
        """The case as it was at a revision.

        Raises:
            NotFound: no such document, or it has no such revision.
        """
        with _transaction(self.engine) as connection:
            return parse_case(sql.body(connection, document_id, revision_id))

    def pin(self, document_id: str, target: int, name: str | None = None, revision_id: int | None = None) -> WhatIf:
        """Keep the construct at index ``target`` as a what-if, as it stands now or stood at a revision.

        Without a name, the first free one of ``What-if 1``, ``What-if 2`` … is given. The document's version stays.

        Raises:
            NotFound: no such document, or it has no such revision.
            InvalidCase: no such construct.
            BadName: blank, longer than 60 characters, or not one line of plain text.
            NameTaken: another what-if of the same construct has the name.
        """
        with _transaction(self._writer) as connection:
            at = pinned.count_change(connection, document_id)
            if revision_id is not None:
                sql.body(connection, document_id, at := revision_id)
            item(self._case(connection, document_id, at).constructs, target, "constructs")
            return self._whatif(connection, pinned.add(connection, document_id, at, target, name))

    def whatifs(self, document_id: str) -> tuple[WhatIf, ...]:
        """All what-ifs of a document, by construct and then oldest first.

        Raises:
            NotFound: no such document.
        """
        with _transaction(self.engine) as connection:
            if not sql.versions(connection, (document_id,)):
                raise sql.missing(document_id)
            return tuple(self._whatif(connection, pin) for pin in pinned.pins(connection, document_id))

    def rename_whatif(self, document_id: str, whatif_id: int, name: str) -> WhatIf:
        """Give a what-if another name.

        Raises:
            NotFound: no such document, or it has no such what-if.
            BadName: blank, longer than 60 characters, or not one line of plain text.
            NameTaken: another what-if of the same construct has the name.
        """
        with _transaction(self._writer) as connection:
            pinned.count_change(connection, document_id)
            pinned.rename(connection, pinned.pin(connection, document_id, whatif_id), name)
            return self._whatif(connection, pinned.pin(connection, document_id, whatif_id))

    def unpin(self, document_id: str, whatif_id: int) -> None:
        """Take a what-if away; the revision it named stays.

        Raises:
            NotFound: no such document, or it has no such what-if.
        """
        with _transaction(self._writer) as connection:
            pinned.count_change(connection, document_id)
            pinned.remove(connection, pinned.pin(connection, document_id, whatif_id))

    def pin_counts(self, *document_ids: str) -> dict[str, int]:
        """How often the what-ifs of those of the documents that exist have changed."""
        with _transaction(self.engine) as connection:
            return pinned.counts(connection, document_ids)

    def import_case(self, case: Case) -> tuple[Snapshot, bool]:
        """Keep a case unless a document's current case is the same; answer the document, and whether it is new."""
        with _transaction(self._writer) as connection:
            known = sql.same_content(connection, case)
            if known is not None:
                return self._snapshot(connection, known), False
            snapshot = self._create(connection, case, "Imported")
        return self._committed(snapshot), True

    def export_library(self) -> Iterator[tuple[str, bytes]]:
        """File name and content of each document's current case, one at a time; one deleted meanwhile is left out."""
        for entry in self.listing():
            try:
                case = self.get(entry.id).case
            except NotFound:
                continue
            yield file_name(case.title, entry.id), file_bytes(case)

    def _create(self, connection: Connection, case: Case, label: str) -> Snapshot:
        document_id = sql.add_document(connection)
        revision_id = sql.add_revision(connection, document_id, None, case, label)
        return self._move(connection, document_id, revision_id, case)

    def _move(self, connection: Connection, document_id: str, revision_id: int, case: Case | None = None) -> Snapshot:
        sql.move_head(connection, document_id, revision_id)
        snapshot = self._snapshot(connection, document_id, case)
        sql.notify(connection, document_id, snapshot.version)
        return snapshot

    def _snapshot(self, connection: Connection, document_id: str, case: Case | None = None) -> Snapshot:
        at = sql.position(connection, document_id)
        if case is None:
            case = self._case(connection, document_id, at.head_id)
        undo_label = None if at.previous_id is None else at.label
        return Snapshot(document_id, at.version, case, at.head_id, at.label, undo_label, at.next_label)

    def _case(self, connection: Connection, document_id: str, revision_id: int) -> Case:
        case = self._cases.get(revision_id)
        if case is None:
            case = parse_case(sql.body(connection, document_id, revision_id))
            self._cases.put(revision_id, case)
        return case

    def _whatif(self, connection: Connection, pin: pinned.Pin) -> WhatIf:
        construct = self._case(connection, pin.document_id, pin.revision_id).constructs[pin.target]
        return WhatIf(pin.id, pin.document_id, pin.revision_id, pin.target, pin.name, pin.created_at, construct)

    def _copy_whatifs(self, connection: Connection, original: Snapshot, copy: Snapshot) -> None:
        # Into revisions of the copy's own, beside its history: the original may be deleted.
        copied = {original.revision_id: copy.revision_id}
        for pin in pinned.pins(connection, original.id):
            if pin.revision_id not in copied:
                case = self._case(connection, original.id, pin.revision_id)
                label = f"What-if of {original.case.title}"
                copied[pin.revision_id] = sql.add_revision(connection, copy.id, None, case, label)
            pinned.add(connection, copy.id, copied[pin.revision_id], pin.target, pin.name)

    def _committed(self, snapshot: Snapshot) -> Snapshot:
        # Only now: a transaction rolled back gives its revision id to the next one.
        self._cases.put(snapshot.revision_id, snapshot.case)
        self._on_change(snapshot.id, snapshot.version)
        return snapshot
