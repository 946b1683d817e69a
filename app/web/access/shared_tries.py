"""Tries of the phrase, counted by all processes of a database together."""

import secrets
from collections.abc import Callable

from app.store import Store, Unavailable
from app.web.access.throttle import Tries

PREFIX = "try:"


class SharedTries:
    """Tries that lie in the database; in this process's memory while it can't be written.

    Only a try that goes ahead is written, so that whoever tries for ever writes no more than the limits allow.
    """

    def __init__(self, store: Store, tries: Tries | None = None) -> None:
        self._store = store
        self._tries = tries or Tries()

    def take(self, address: str, now_s: float, known: str | None = None) -> int:
        """Count one try at ``now_s``, seconds since 1970; 0: go ahead, otherwise the seconds to wait."""
        return self._settled(lambda: self._tries.take(address, now_s, known))

    def forgive(self, address: str, known: str | None = None) -> None:
        """Forget whose tries these are: the phrase was found."""

        def forgive() -> int:
            self._tries.forgive(address, known)
            return 0

        self._settled(forgive)

    def _settled(self, count: Callable[[], int]) -> int:
        """Have ``count`` go on from the tries that lie in the database; they lie there anew if nobody has to wait."""
        wait_s = 0

        def decide(there: dict[str, bytes]) -> dict[str, bytes | None]:
            nonlocal wait_s
            self._tries.recent = [_entry(value) for value in there.values()]
            wait_s = count()
            return {} if wait_s else _changes(there, self._tries.recent)

        try:
            self._store.settle(PREFIX, decide)
        except Unavailable:
            return count()
        return wait_s


def _entry(value: bytes) -> tuple[float, str]:
    at, _, who = value.decode().partition(" ")
    return float(at), who


def _changes(there: dict[str, bytes], entries: tuple[tuple[float, str], ...]) -> dict[str, bytes | None]:
    """What has to be written so that these entries are there, and no others."""
    wanted = [f"{at!r} {who}".encode() for at, who in entries]
    changes: dict[str, bytes | None] = {}
    for name, value in there.items():
        if value in wanted:
            wanted.remove(value)
        else:
            changes[name] = None
    return changes | {f"{PREFIX}{secrets.token_hex(12)}": value for value in wanted}
