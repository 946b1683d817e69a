"""Documents and what-ifs as read from their rows. Every method runs inside the caller's transaction."""

from collections import defaultdict
from collections.abc import Iterator

from sqlalchemy import Connection

from app.case import Case, Construct, InvalidCase, parse_case
from app.single_flight import SingleFlightCache
from app.store import bodies
from app.store import statements as sql
from app.store import whatifs as pinned
from app.store.content import file_bytes, file_name
from app.store.errors import Unreadable
from app.store.once import Done
from app.store.records import Exported, Snapshot, UnreadableCase, WhatIf, with_whatifs
from app.store.whatifs import Pin

PARSED = 256


class Reading:
    """Reads rows, and remembers the cases parsed last, by revision: those never change, so none can go stale.

    Nobody waits for another's reading: what goes wrong with one connection is no fault of the others.
    """

    def __init__(self) -> None:
        self.cases: SingleFlightCache[int, Case] = SingleFlightCache(PARSED)

    def case(self, connection: Connection, document_id: str, revision_id: int, body: bytes | None = None) -> Case:
        """The case of a revision; one whose text the caller has is not remembered: who has many would push out all.

        Raises:
            NotFound: the document has no such revision.
            Unreadable: what is stored is no case.
        """
        case = self.cases.peek(revision_id)
        if case is None and body is not None:
            return parsed(document_id, revision_id, body)
        if case is None:
            case = parsed(document_id, revision_id, bodies.body(connection, document_id, revision_id))
            self.cases.put(revision_id, case)
        return case

    def snapshot(self, connection: Connection, document_id: str) -> Snapshot:
        """The document as it stands."""
        at = sql.position(connection, document_id)
        return _placed(document_id, at, at.version, self.case(connection, document_id, at.head_id))

    def again(self, connection: Connection, done: Done) -> Snapshot:
        """The document as an earlier write left it."""
        revision_id = done.revision_id or 0
        at = sql.position_at(connection, done.document_id, revision_id)
        return _placed(done.document_id, at, done.number, self.case(connection, done.document_id, revision_id))

    def earlier(self, connection: Connection, document_id: str) -> int | None:
        """The nearest revision before the current one that can be read; None: none comes before.

        Raises:
            Unreadable: none of those before can be read.
        """
        trouble = None
        at = sql.position(connection, document_id).previous_id
        while at is not None:
            try:
                self.case(connection, document_id, at)
            except Unreadable as error:
                trouble = trouble or error
                at = sql.position_at(connection, document_id, at).previous_id
            else:
                return at
        if trouble is not None:
            raise trouble
        return None

    def unreadable(self, connection: Connection, document_id: str) -> UnreadableCase | None:
        """What there is of a document whose current revision can't be read; None if it can."""
        at = sql.position(connection, document_id)
        try:
            self.case(connection, document_id, at.head_id)
        except Unreadable:
            pass
        else:
            return None
        try:
            earlier_id = self.earlier(connection, document_id)
        except Unreadable:
            earlier_id = None
        known = {one.id: one for one in sql.revisions(connection, document_id)}
        earlier = None if earlier_id is None else known[earlier_id]
        return UnreadableCase(document_id, at.version, at.head_id, known[at.head_id].title, earlier)

    def whatif(self, connection: Connection, pin: Pin, body: bytes | None = None) -> WhatIf:
        """A what-if, also where its revision can't be read; ``body`` as for ``case``."""
        return WhatIf(
            pin.id,
            pin.document_id,
            pin.revision_id,
            pin.target,
            pin.name,
            pin.created_at,
            self._construct(connection, pin, body),
        )

    def everything(self, connection: Connection) -> Iterator[Exported]:
        """Every document's current case and what-ifs as a file, by few questions to the database."""
        texts = bodies.pinned(connection)
        kept: defaultdict[str, list[WhatIf]] = defaultdict(list)
        for pin in pinned.pins(connection):
            kept[pin.document_id].append(self.whatif(connection, pin, texts[pin.revision_id]))
        for document_id, revision_id, title, body in bodies.heads(connection):
            name = file_name(title, document_id)
            try:
                case = self.case(connection, document_id, revision_id, body)
            except Unreadable as error:
                yield Exported(name, title, body, error.reason)
            else:
                yield Exported(name, title, file_bytes(with_whatifs(case, kept[document_id])))

    def _construct(self, connection: Connection, pin: Pin, body: bytes | None) -> Construct | None:
        try:
            constructs = self.case(connection, pin.document_id, pin.revision_id, body).constructs
        except Unreadable:
            return None
        return constructs[pin.target] if pin.target < len(constructs) else None


def parsed(document_id: str, revision_id: int, body: bytes) -> Case:
    """The case that a body holds.

    Raises:
        Unreadable: it holds none.
    """
    try:
        return parse_case(body)
    except InvalidCase as invalid:
        raise Unreadable(document_id, revision_id, str(invalid.faults[0])) from invalid


def _placed(document_id: str, at: sql.Position, version: int, case: Case) -> Snapshot:
    label, after = sql.as_kept(at.label), None if at.next_label is None else sql.as_kept(at.next_label)
    return Snapshot(document_id, version, case, at.head_id, label, None if at.previous_id is None else label, after)
