"""What has ended before its time: sessions that were signed out, and read-only links that were withdrawn.

The list is short, since what is on it expires anyway, and lies in the database for all processes; each looks once a
second. What this process ended itself holds at once.
"""

import secrets
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from threading import Lock

from app.store import Store, Unavailable
from app.web.access.permissions import Owner, Pass, Reader
from app.web.access.tokens import EPOCH_BYTES, READER_S, SESSION_S, Keys

EVERY_S = 1.0
PREFIX, SESSION, LINKS, PHRASE = "ended:", "ended:s:", "ended:l:", "phrase"


def last_phrase(store: Store, keys: Keys) -> bytes:
    """The epoch of this phrase: a new one if the last server on this database had another phrase."""
    now = keys.fingerprint()

    def decide(there: dict[str, bytes]) -> dict[str, bytes | None]:
        before = there.get(PHRASE, b"")
        if before[EPOCH_BYTES:] == now:
            return {}
        return {PHRASE: secrets.token_bytes(EPOCH_BYTES) + now}

    with suppress(Unavailable):
        found = store.settle(PHRASE)
        if decide(found):
            found = store.settle(PHRASE, decide)
        return found.get(PHRASE, b"")[:EPOCH_BYTES]
    return secrets.token_bytes(EPOCH_BYTES)  # what is signed now ends with this process


class Ended:
    """Which passes have ended; safe between threads. ``over`` is asked for every request and only looks into memory."""

    def __init__(self, store: Store) -> None:
        self._store = store
        self._lock = Lock()
        self._at_ms: dict[str, int] = {}
        self._open: dict[object, tuple[Pass, Callable[[], None]]] = {}
        self.look()

    def over(self, held: Pass | None) -> bool:
        """Whether this pass has ended before its time."""
        match held:
            case Owner(session) if session is not None:
                return SESSION + session in self._at_ms
            case Reader(case_id, issued_ms):
                return issued_ms <= self._at_ms.get(LINKS + case_id, -1)
            case _:
                return False

    def look(self) -> None:
        """Learn what other processes have ended; what can't be read now is read later."""
        with suppress(Unavailable):
            there = self._store.settle(PREFIX)
            with self._lock:
                self._at_ms.update({name: int(value) for name, value in there.items()})

    def sign_out(self, session: str) -> None:
        """End a session.

        Raises:
            Unavailable: other processes, and this one after a restart, don't know of it.
        """
        self._end(SESSION + session, _now_ms())

    def withdraw(self, case_id: str) -> None:
        """End all read-only links to a case that were made up to now.

        Raises:
            Unavailable: other processes, and this one after a restart, don't know of it.
        """
        self._end(LINKS + case_id, max(_now_ms(), self._at_ms.get(LINKS + case_id, 0)))

    def free_s(self, case_id: str) -> float:
        """When a link to this case may be made so that it counts as later than the last withdrawal, s since 1970."""
        return max(time.time(), (self._at_ms.get(LINKS + case_id, -1) + 1.5) / 1000)

    @contextmanager
    def closing(self, held: Pass | None, close: Callable[[], None]) -> Iterator[None]:
        """Have ``close`` called by ``close_ended`` when this pass ends meanwhile; in one event loop."""
        key = object()
        if held is not None:
            self._open[key] = held, close
        try:
            yield
        finally:
            self._open.pop(key, None)

    def close_ended(self) -> None:
        """Close whatever is open by a pass that has ended; in the event loop of those who opened it."""
        for held, close in tuple(self._open.values()):
            if self.over(held):
                close()

    def _end(self, name: str, at_ms: int) -> None:
        with self._lock:
            self._at_ms[name] = at_ms

        def decide(there: dict[str, bytes]) -> dict[str, bytes | None]:
            old = {key: None for key, value in there.items() if int(value) + _lasts_ms(key) < _now_ms()}
            return {**old, name: str(at_ms).encode()}

        self._store.settle(PREFIX, decide)


def _lasts_ms(name: str) -> int:
    return 1000 * (SESSION_S if name.startswith(SESSION) else READER_S)


def _now_ms() -> int:
    return int(time.time() * 1000)
