"""The store: documents whose every edit is kept, shared by threads, processes and machines.

A document's revisions form a tree. An edit appends a revision after the head; undo moves the head to the one before;
redo moves it to the newest one after. No edit deletes anything, and each of the three raises the version.
"""

import logging
import time
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from typing import TypeVar

from sqlalchemy import Connection, Engine

from app.case import Case, InvalidCase, apply, parse_edit
from app.case.fields import item
from app.store import bodies, lines
from app.store import once as keyed
from app.store import statements as sql
from app.store import whatifs as pinned
from app.store.changes import GONE
from app.store.content import file_name
from app.store.engine import for_writing, make_shrinkable, of_one_moment, open_engine, tidy
from app.store.errors import NothingToRedo, NothingToUndo, StoreError, Unavailable, Unreadable
from app.store.migrate import migrate
from app.store.once import Done, Once, RepeatedError
from app.store.probe import Probe
from app.store.reading import Reading, parsed
from app.store.records import (
    Exported,
    Listing,
    Page,
    Past,
    RevisionInfo,
    Snapshot,
    UnreadableCase,
    WhatIf,
    with_whatifs,
)
from app.store.transaction import telling_why, transaction

SIGNING = "signing"  # the name of the secret that all share
Made = TypeVar("Made")
log = logging.getLogger(__name__)


class Store:
    """Documents in one database. Every method is one transaction, and safe to call from any thread.

    ``on_change`` is called after each committed write with the document's id and new version, or ``GONE`` for the
    version after a delete. Every method raises ``Unavailable`` when the database can't serve, and ``Unreadable`` when
    the revision asked for is no case. A write that carries a key (``Once``) happens once: a repeat is answered as the
    first was, and raises ``KeyReused`` if it would write something else.
    """

    def __init__(self, url: str | Engine, on_change: Callable[[str, int], None] = lambda *_: None) -> None:
        """Open the database, bringing its tables up to date; an engine must come from ``open_engine``.

        Raises:
            ValueError: the URL is neither SQLite in a file nor PostgreSQL.
            LaterDatabase: written by a later version of the program.
            Unavailable: the database can't serve.
        """
        self.engine = open_engine(url) if isinstance(url, str) else url
        self._writer = for_writing(self.engine)
        self._on_change = on_change
        self._read = Reading()
        self.untidy, self._probe = False, Probe(self._writer)
        self._pruned_s = -keyed.PRUNED_EVERY.total_seconds()
        try:
            with telling_why(writing=True):
                migrate(self.engine)
            self._make_room(make_shrinkable)
            self._make_room(tidy)
        except BaseException:
            self.close()
            raise

    def close(self) -> None:
        """Close all connections."""
        self.engine.dispose()

    def trouble(self) -> Unavailable | None:
        """What keeps the database from being read or written, as found by doing so within the last second."""
        return self._probe.trouble()

    def tidy(self) -> None:
        """On SQLite, bring everything into the database's file and leave nothing deleted in any; else try later."""
        self._make_room(tidy)

    def shared_secret(self, offered: bytes) -> bytes:
        """The secret of all processes that use the database; the first one ever offered becomes it."""
        return self.settle(SIGNING, lambda there: {} if SIGNING in there else {SIGNING: offered})[SIGNING]

    def settle(self, prefix: str, decide: sql.Decide | None = None) -> dict[str, bytes]:
        """What all processes keep of letting people in, by names that begin so, after ``decide`` has changed it."""
        with transaction(self._writer if decide else self.engine, counted=False) as connection:
            return sql.settled(connection, prefix, decide) if decide else sql.kept(connection, prefix)

    def create(self, case: Case, label: str, once: Once | None = None) -> Snapshot:
        """Keep a case as a new document."""
        return self._write("", once, lambda connection: self._create(connection, case, label))

    def get(self, document_id: str) -> Snapshot:
        """The document as it stands.

        Raises:
            NotFound: no such document.
        """
        with transaction(self.engine) as connection:
            return self._read.snapshot(connection, document_id)

    def written(self, document_id: str, once: Once | None) -> Snapshot | None:
        """The document as an earlier write with this key left it; None if there was none.

        Raises:
            KeyReused: the key was used for another write.
        """
        return self._repeated(document_id, once, self._read.again)

    def unreadable(self, document_id: str) -> UnreadableCase | None:
        """What there is of a document whose current revision can't be read; None if it can.

        Raises:
            NotFound: no such document.
        """
        with transaction(self.engine) as connection:
            return self._read.unreadable(connection, document_id)

    def stored(self, document_id: str, revision_id: int) -> bytes:
        """What lies in the database as a revision, readable or not.

        Raises:
            NotFound: no such document, or it has no such revision.
        """
        with transaction(self.engine) as connection:
            return bodies.body(connection, document_id, revision_id)

    def versions(self, *document_ids: str) -> dict[str, int]:
        """Current versions of those of the documents that exist; cheaper than getting them."""
        with transaction(self.engine) as connection:
            return sql.versions(connection, document_ids)

    def listing(self) -> tuple[Listing, ...]:
        """All documents, last changed first."""
        with transaction(self.engine) as connection:
            return lines.everything(connection)

    def page(self, wanted: lines.Wanted, limit: int) -> Page:
        """At most ``limit`` lines of the list of documents; ``BadPlace`` as in ``lines.page``."""
        with transaction(self.engine) as connection:
            return lines.page(connection, wanted, limit)

    def save(
        self, document_id: str, case: Case, expected_version: int, label: str, once: Once | None = None
    ) -> Snapshot:
        """Append a revision after the current one; the label says what the edit was.

        Raises:
            NotFound: no such document.
            Stale: the version is another one; nothing is written.
        """

        def write(connection: Connection) -> Snapshot:
            head_id = sql.claim(connection, document_id, expected_version)
            lines.change(connection, document_id, case, self._read.cases.peek(head_id))
            return self._append(connection, document_id, expected_version + 1, head_id, case, label)

        return self._write(document_id, once, write)

    def undo(self, document_id: str, expected_version: int, once: Once | None = None) -> Snapshot:
        """Go back to the revision before; those that can't be read are passed over.

        Raises:
            NotFound: no such document.
            Stale: the version is another one; nothing is written.
            NothingToUndo: this is the first revision.
        """

        def write(connection: Connection) -> Snapshot:
            sql.claim(connection, document_id, expected_version)
            previous_id = self._read.earlier(connection, document_id)
            if previous_id is None:
                message = "nothing to undo: this is the first revision"
                raise NothingToUndo(message)
            return self._move(connection, document_id, previous_id)

        return self._write(document_id, once, write)

    def redo(self, document_id: str, expected_version: int, once: Once | None = None) -> Snapshot:
        """Go forward to the newest of the revisions that follow.

        Raises:
            NotFound: no such document.
            Stale: the version is another one; nothing is written.
            NothingToRedo: no revision follows.
        """

        def write(connection: Connection) -> Snapshot:
            sql.claim(connection, document_id, expected_version)
            next_id = sql.position(connection, document_id).next_id
            if next_id is None:
                message = "nothing to redo: no revision follows this one"
                raise NothingToRedo(message)
            return self._move(connection, document_id, next_id)

        return self._write(document_id, once, write)

    def duplicate(self, document_id: str, title: str, once: Once | None = None) -> Snapshot:
        """A new document with the current case under another title, and with its what-ifs.

        Raises:
            NotFound: no such document.
            InvalidCase: the title can't be one.
        """

        def write(connection: Connection) -> Snapshot:
            original = self._read.snapshot(connection, document_id)
            case = apply(original.case, parse_edit({"op": "set_title", "title": title}))
            snapshot = self._create(connection, case, f"Duplicate of {original.case.title}")
            self._copy_whatifs(connection, original, snapshot)
            return snapshot

        return self._write("", once, write)

    def delete(self, document_id: str) -> None:
        """Delete a document with all its revisions, for good: what somebody wants gone must be gone.

        Raises:
            NotFound: no such document.
        """
        with transaction(self._writer) as connection:
            sql.remove(connection, document_id)
            sql.notify(connection, document_id, GONE)
        self._tell(document_id, GONE)
        self.tidy()

    def revisions(self, document_id: str) -> tuple[RevisionInfo, ...]:
        """All revisions of a document, oldest first, those left by undo included.

        Raises:
            NotFound: no such document.
        """
        with transaction(self.engine) as connection:
            found = sql.revisions(connection, document_id)
        if not found:
            raise sql.missing(document_id)
        return found

    def revision(self, document_id: str, revision_id: int) -> Case:
        """The case as it was at a revision.

        Raises:
            NotFound: no such document, or it has no such revision.
        """
        with transaction(self.engine) as connection:
            return parsed(document_id, revision_id, bodies.body(connection, document_id, revision_id))

    def pin(
        self,
        document_id: str,
        target: int,
        name: str | None = None,
        at: int | Callable[[Snapshot], Case] | None = None,
        once: Once | None = None,
    ) -> WhatIf:
        """Keep the construct at index ``target`` as a what-if, as it stands, stood at a revision or would be if tried.

        Without a name, the first free one of ``What-if 1``, ``What-if 2`` … is given. The document's version stays.

        Raises:
            NotFound: no such document, or it has no such revision.
            InvalidCase: no such construct.
            BadName: longer than 60 characters, or not one line of plain text that can be seen.
            NameTaken: another what-if of the same construct has the name.
        """

        def write(connection: Connection) -> WhatIf:
            head_id = pinned.count_change(connection, document_id)
            seen = at(self._read.snapshot(connection, document_id)) if callable(at) else at
            revision_id = pinned.revision_of(connection, document_id, seen, head_id)
            item(self._read.case(connection, document_id, revision_id).constructs, target, "constructs")
            added = pinned.add(connection, document_id, revision_id, target, name)
            keyed.keep(connection, document_id, once, Done(document_id, added.id))
            return self._read.whatif(connection, added)

        def again(connection: Connection, done: Done) -> WhatIf:
            return self._read.whatif(connection, pinned.pin(connection, document_id, done.number))

        return self._once(document_id, once, write, again)[0]

    def whatifs(self, document_id: str) -> tuple[WhatIf, ...]:
        """All what-ifs of a document, by construct and then oldest first.

        Raises:
            NotFound: no such document.
        """
        with transaction(self.engine) as connection:
            if not sql.versions(connection, (document_id,)):
                raise sql.missing(document_id)
            return tuple(self._read.whatif(connection, pin) for pin in pinned.pins(connection, document_id))

    def rename_whatif(self, document_id: str, whatif_id: int, name: str) -> WhatIf:
        """Give a what-if another name.

        Raises:
            NotFound: no such document, or it has no such what-if.
            BadName: longer than 60 characters, or not one line of plain text that can be seen.
            NameTaken: another what-if of the same construct has the name.
        """
        with transaction(self._writer) as connection:
            pinned.count_change(connection, document_id)
            pinned.rename(connection, pinned.pin(connection, document_id, whatif_id), name)
            return self._read.whatif(connection, pinned.pin(connection, document_id, whatif_id))

    def unpin(self, document_id: str, whatif_id: int) -> None:
        """Take a what-if away; the revision it named stays.

        Raises:
            NotFound: no such document, or it has no such what-if.
        """
        with transaction(self._writer) as connection:
            pinned.count_change(connection, document_id)
            pinned.remove(connection, pinned.pin(connection, document_id, whatif_id))

    def pin_counts(self, *document_ids: str) -> dict[str, int]:
        """How often the what-ifs of those of the documents that exist have changed."""
        with transaction(self.engine) as connection:
            return pinned.counts(connection, document_ids)

    def import_case(self, case: Case) -> tuple[Snapshot, bool]:
        """As ``merge_case``, without what-ifs in the answer."""
        snapshot, new, _ = self.merge_case(case)
        return snapshot, new

    def merge_case(self, case: Case) -> tuple[Snapshot, bool, int]:
        """Keep a case unless a document's current case is the same; that one gains the what-ifs that it lacks.

        Answers the document, whether it is new, and how many what-ifs it has gained.
        """
        with transaction(self._writer) as connection:
            known = sql.same_content(connection, case)
            if known is not None:
                try:
                    added = self._keep_whatifs(connection, known, case)
                    return self._read.snapshot(connection, known), False, added
                except Unreadable:  # damaged since: here comes a whole one
                    log.warning("case %s can't be read; its content is kept anew", known)
            snapshot = self._create(connection, case, "Imported")
        return self._committed(snapshot), True, len(case.whatifs)

    def whole(self, document_id: str) -> tuple[Snapshot, Case]:
        """The document, and its case with the what-ifs that can be read: as it travels in a file.

        Raises:
            NotFound: no such document.
            Unreadable: its current revision is no case.
        """
        with transaction(self.engine) as connection:
            snapshot = self._read.snapshot(connection, document_id)
            kept = [self._read.whatif(connection, pin) for pin in pinned.pins(connection, document_id)]
        return snapshot, with_whatifs(snapshot.case, kept)

    def export_library(self) -> tuple[Exported, ...]:
        """Each document's current case and what-ifs as a file, all as they stand at one moment, by file name."""
        with transaction(of_one_moment(self.engine)) as connection:
            return tuple(sorted(self._read.everything(connection), key=lambda one: one.name))

    def export_histories(self) -> Iterator[tuple[str, str, tuple[Past, ...]]]:
        """Each document's id, file name and revisions, oldest first, one document at a time, by file name."""
        for name, document_id in sorted((file_name(entry.title, entry.id), entry.id) for entry in self.listing()):
            with transaction(self.engine) as connection:
                past = bodies.history(connection, document_id)
            if past:
                yield document_id, name, past

    def _write(self, scope: str, once: Once | None, write: Callable[[Connection], Snapshot]) -> Snapshot:
        def keyed_write(connection: Connection) -> Snapshot:
            made = write(connection)
            keyed.keep(connection, scope, once, Done(made.id, made.version, made.revision_id))
            return made

        snapshot, new = self._once(scope, once, keyed_write, self._read.again)
        if new:
            self._committed(snapshot)
            self._prune(once)
        return snapshot

    def _once(
        self,
        scope: str,
        once: Once | None,
        write: Callable[[Connection], Made],
        again: Callable[[Connection, Done], Made],
    ) -> tuple[Made, bool]:
        """What was written, and whether it is new. Whatever refuses the write may come of its being a repeat."""
        try:
            with transaction(self._writer) as connection:
                return write(connection), True
        except Unavailable:
            raise
        except (StoreError, InvalidCase, RepeatedError):
            found = self._repeated(scope, once, again)
            if found is None:
                raise
            return found, False

    def _repeated(self, scope: str, once: Once | None, again: Callable[[Connection, Done], Made]) -> Made | None:
        if once is None:
            return None
        with transaction(self.engine) as connection:
            done = keyed.found(connection, scope, once)
            return None if done is None else again(connection, done)

    def _prune(self, once: Once | None) -> None:
        # In a transaction of its own, after the write, so that the write is kept whatever becomes of this.
        now_s = time.monotonic()
        if once is None or now_s - self._pruned_s < keyed.PRUNED_EVERY.total_seconds():
            return
        self._pruned_s = now_s
        try:
            with transaction(self._writer, counted=False) as connection:
                keyed.prune(connection, datetime.now(UTC))
        except Unavailable as error:
            log.warning("old keys of writes stay for another hour: %s", error)

    def _make_room(self, work: Callable[[Engine], object]) -> None:
        # What is asked for is done by now, whatever becomes of this; ``Upkeep`` tries again.
        try:
            with telling_why(writing=False):
                self.untidy = work(self.engine) is False
        except Unavailable as error:
            self.untidy = True
            log.warning("room of what was deleted is not given back yet: %s", error)

    def _create(self, connection: Connection, case: Case, label: str) -> Snapshot:
        document_id = sql.add_document(connection)
        alone = case.model_copy(update={"whatifs": ()}) if case.whatifs else case
        lines.add(connection, document_id, alone)
        snapshot = self._append(connection, document_id, 1, None, alone, label)
        self._keep_whatifs(connection, document_id, case)
        return snapshot

    def _keep_whatifs(self, connection: Connection, document_id: str, case: Case) -> int:
        """Keep what-ifs that came with a file, each in a revision of its own beside the history; answer how many.

        One that the document has already, under whatever name, is not kept twice.
        """
        known = [self._read.whatif(connection, pin) for pin in pinned.pins(connection, document_id)]
        have = [(one.target, one.construct) for one in known]
        new = [one for one in case.whatifs if (one.target, one.value) not in have]
        if new:
            pinned.count_change(connection, document_id)
        for one in new:
            others = (*case.constructs[: one.target], *((one.value,) * (one.target - len(case.constructs))))
            constructs = (*others, one.value, *case.constructs[one.target + 1 :])
            variant = case.model_copy(update={"constructs": constructs, "whatifs": ()})
            revision_id = sql.add_revision(connection, document_id, None, variant, f"What-if {one.name}")
            pinned.add_kept(connection, document_id, revision_id, one)
        return len(new)

    def _append(
        self, connection: Connection, document_id: str, version: int, previous_id: int | None, case: Case, label: str
    ) -> Snapshot:
        # Nothing follows a new revision, so that there is nothing to ask the database for.
        revision_id = sql.add_revision(connection, document_id, previous_id, case, label)
        sql.move_head(connection, document_id, revision_id)
        sql.notify(connection, document_id, version)
        kept = sql.as_kept(label)
        return Snapshot(document_id, version, case, revision_id, kept, None if previous_id is None else kept, None)

    def _move(self, connection: Connection, document_id: str, revision_id: int) -> Snapshot:
        sql.move_head(connection, document_id, revision_id)
        snapshot = self._read.snapshot(connection, document_id)
        lines.change(connection, document_id, snapshot.case)
        sql.notify(connection, document_id, snapshot.version)
        return snapshot

    def _copy_whatifs(self, connection: Connection, original: Snapshot, copy: Snapshot) -> None:
        # Into revisions of the copy's own, beside its history: the original may be deleted.
        copied = {original.revision_id: copy.revision_id}
        for pin in pinned.pins(connection, original.id):
            if pin.revision_id not in copied:
                label = f"What-if of {original.case.title}"
                copied[pin.revision_id] = sql.copy_revision(connection, pin.revision_id, copy.id, label)
            pinned.add(connection, copy.id, copied[pin.revision_id], pin.target, pin.name)

    def _committed(self, snapshot: Snapshot) -> Snapshot:
        # Only now: a transaction rolled back gives its revision id to the next one.
        self._read.cases.put(snapshot.revision_id, snapshot.case)
        self._tell(snapshot.id, snapshot.version)
        return snapshot

    def _tell(self, document_id: str, version: int) -> None:
        # The write is kept, whatever becomes of the word of it.
        try:
            self._on_change(document_id, version)
        except Exception:
            log.exception("nobody could be told that case %s is at version %d", document_id, version)
