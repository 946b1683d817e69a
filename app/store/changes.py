"""Who follows which document: word of a change, from any thread, to readers in event loops.

Readers are told the newest version only; what a slow reader missed in between is of no use to it. Versions may be
published twice and by several ways (the writing process itself, the database): readers see each at most once.
"""

import asyncio
from threading import Lock
from types import TracebackType
from typing import Self

GONE = 0  # in place of a version, whose first is 1: the document was deleted


class Subscription:
    """An async iterator over the versions of one document; ends when closed or when the document is deleted.

    Use it in a ``with`` block, inside the event loop it was made in.
    """

    def __init__(self, changes: "Changes", document_id: str, after: int) -> None:
        self._changes = changes
        self._document_id = document_id
        self._loop = asyncio.get_running_loop()
        self._wake = asyncio.Event()
        self._newest = self._given = after
        self._closed = False

    def __enter__(self) -> Self:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        self.close()

    def __aiter__(self) -> Self:
        return self

    async def __anext__(self) -> int:
        while not self._closed and self._newest <= self._given:
            self._wake.clear()
            await self._wake.wait()
        if self._closed:
            raise StopAsyncIteration
        self._given = self._newest
        return self._given

    def offer(self, version: int) -> None:
        """Tell the reader of a version, or that the document is gone; from any thread."""
        try:
            self._loop.call_soon_threadsafe(self._take, version)
        except RuntimeError:  # the loop is closed, and the reader with it
            self._changes.forget(self._document_id, self)

    def close(self) -> None:
        """End the iteration and stop listening; for the reader's own event loop."""
        self._changes.forget(self._document_id, self)
        self._closed = True
        self._wake.set()

    def _take(self, version: int) -> None:
        if version == GONE:
            self.close()
        elif version > self._newest:
            self._newest = version
            self._wake.set()


class Changes:
    """All subscriptions of this process."""

    def __init__(self) -> None:
        self._lock = Lock()
        self._readers: dict[str, set[Subscription]] = {}

    def publish(self, document_id: str, version: int) -> None:
        """Tell everybody who follows the document of its new version, or ``GONE``; from any thread."""
        with self._lock:
            readers = tuple(self._readers.get(document_id, ()))
        for reader in readers:
            reader.offer(version)

    def subscribe(self, document_id: str, after: int = 0) -> Subscription:
        """Follow a document from now on, leaving out versions up to ``after``; call it inside the event loop.

        Nothing tells of a change that came before, so subscribe first and read the document then.
        """
        reader = Subscription(self, document_id, after)
        with self._lock:
            self._readers.setdefault(document_id, set()).add(reader)
        return reader

    def followed(self) -> tuple[str, ...]:
        """Ids of the documents that somebody follows."""
        with self._lock:
            return tuple(self._readers)

    def forget(self, document_id: str, reader: Subscription) -> None:
        """Take a subscription out; one that is out already does no harm."""
        with self._lock:
            readers = self._readers.get(document_id, set())
            readers.discard(reader)
            if not readers:
                self._readers.pop(document_id, None)

    def close(self) -> None:
        """End every subscription, so that streams finish and the server can stop."""
        for document_id in self.followed():
            self.publish(document_id, GONE)
