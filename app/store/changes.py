"""Who follows which document: word of a change, from any thread, to readers in event loops.

Three kinds of word: a new version, a change of the what-ifs, and a preview of an edit not made yet. Readers are told
the newest of each kind only; what a slow reader missed in between is of no use to it. The same word may come twice and
by several ways (the writing process itself, the database): readers hear it at most once.
"""

import asyncio
import secrets
from collections.abc import Callable
from dataclasses import dataclass
from threading import Lock
from types import TracebackType
from typing import Self

from app.store.preview import Message, Preview

GONE = 0  # in place of a version, whose first is 1: the document was deleted


@dataclass(frozen=True, slots=True)
class Pins:
    """The document's what-ifs changed; ``count`` grows with every pin, new name and removal."""

    count: int


Word = int | Pins | Preview


class Subscription:
    """An async iterator over the word of one document; ends when closed or when the document is deleted.

    It gives a version (an int), ``Pins`` or a ``Preview``. A preview of a version older than the newest is left out:
    the edit was made, or another one came before it. So is one that was overtaken by a later one of the same hand: a
    drag that was given up would seem to go on for ever. Use it in a ``with`` block, inside the event loop it was made
    in.
    """

    def __init__(self, changes: "Changes", document_id: str, after: int, after_pins: int) -> None:
        self._changes = changes
        self._document_id = document_id
        self._loop = asyncio.get_running_loop()
        self._wake = asyncio.Event()
        self._version = after
        self._pins = after_pins
        self._tried: Preview | None = None
        self._waiting: dict[type, Word] = {}  # newest of each kind, in the order in which they came
        self._closed = False

    def __enter__(self) -> Self:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        self.close()

    def __aiter__(self) -> Self:
        return self

    async def __anext__(self) -> Word:
        while not self._closed and not self._waiting:
            self._wake.clear()
            await self._wake.wait()
        if self._closed:
            raise StopAsyncIteration
        return self._waiting.pop(next(iter(self._waiting)))

    def offer(self, word: Word) -> None:
        """Tell the reader a word, or that the document is gone; from any thread."""
        try:
            self._loop.call_soon_threadsafe(self._take, word)
        except RuntimeError:  # the loop is closed, and the reader with it
            self._changes.forget(self._document_id, self)

    def close(self) -> None:
        """End the iteration and stop listening; for the reader's own event loop."""
        self._changes.forget(self._document_id, self)
        self._closed = True
        self._wake.set()

    def _take(self, word: Word) -> None:
        if word == GONE:
            self.close()
        elif self._is_news(word):
            self._waiting.pop(type(word), None)
            self._waiting[type(word)] = word
            self._wake.set()

    def _is_news(self, word: Word) -> bool:
        if isinstance(word, Preview):
            if word.version < self._version or word.comes_late(self._tried):
                return False
            self._tried = word
            return True
        if isinstance(word, Pins):
            newer, self._pins = word.count > self._pins, max(word.count, self._pins)
            return newer
        newer, self._version = word > self._version, max(word, self._version)
        waiting = self._waiting.get(Preview)
        if isinstance(waiting, Preview) and waiting.version < self._version:
            del self._waiting[Preview]
        return newer


def _pass_on_to_nobody(_message: Message) -> None:
    pass


class Changes:
    """All subscriptions of this process. ``sender`` tells its previews from those of other processes."""

    def __init__(self) -> None:
        self._lock = Lock()
        self._readers: dict[str, set[Subscription]] = {}
        self._newcomers: set[str] = set()
        self._pass_on: Callable[[Message], None] = _pass_on_to_nobody
        self.sender = secrets.token_hex(8)

    def publish(self, document_id: str, version: int) -> None:
        """Tell everybody who follows the document of its new version, or ``GONE``; from any thread."""
        self.tell(document_id, version)

    def preview(self, document_id: str, preview: Preview) -> None:
        """Show everybody who follows the document what is being tried, in other processes too; from any thread.

        Nothing is kept, and nothing waits for other processes. They hear of it on PostgreSQL only, and while
        ``watch`` runs; on SQLite the followers of another process see what is committed.
        """
        fitted = preview.fitted()
        self.tell(document_id, fitted)
        self._pass_on(Message(self.sender, document_id, fitted))

    def tell(self, document_id: str, word: Word) -> None:
        """Give a word to the followers in this process; from any thread."""
        with self._lock:
            readers = tuple(self._readers.get(document_id, ()))
        for reader in readers:
            reader.offer(word)

    def subscribe(self, document_id: str, after: int = 0, after_pins: int = 0) -> Subscription:
        """Follow a document from now on, leaving out what the reader knows; call it inside the event loop.

        Nothing tells of a change that came before, so subscribe first and read the document then.

        Args:
            document_id: the document.
            after: leave out versions up to this one.
            after_pins: leave out changes of the what-ifs up to this count.
        """
        reader = Subscription(self, document_id, after, after_pins)
        with self._lock:
            self._readers.setdefault(document_id, set()).add(reader)
            self._newcomers.add(document_id)
        return reader

    def pass_previews_to(self, pass_on: Callable[[Message], None]) -> None:
        """Name who takes previews to other processes; it must not wait."""
        self._pass_on = pass_on

    def followed(self) -> tuple[str, ...]:
        """Ids of the documents that somebody follows."""
        with self._lock:
            return tuple(self._readers)

    def newcomers(self) -> set[str]:
        """Ids of the documents that somebody began to follow since this was asked last; for the one who watches."""
        with self._lock:
            found, self._newcomers = self._newcomers, set()
        return found

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
