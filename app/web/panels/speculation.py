"""Working ahead: while something is dragged, the next question can be guessed, and its answer made ready meanwhile.

A pointer mostly goes on as it did. A guess that is wrong costs time that hardly anybody waits for: none is begun while
this process answers a question of some drag, and only one is made at a time.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from threading import Lock
from typing import Any

from app.case import Edit, InvalidCase, parse_edit


def continued(old: dict[str, Any], new: dict[str, Any]) -> Edit | None:
    """The edit that comes next if its figure goes on as it did; None where the two don't differ in one figure alone.

    Both are whole edits as decoded JSON documents.
    """
    moved = [name for name, value in new.items() if old.get(name) != value]
    if old.keys() != new.keys() or len(moved) != 1:
        return None
    was, now = old[moved[0]], new[moved[0]]
    if not all(isinstance(value, int | float) and not isinstance(value, bool) for value in (was, now)):
        return None
    try:
        guess: Edit = parse_edit({**new, moved[0]: round(2 * now - was, 4)})
    except InvalidCase:
        return None
    return guess


class Questions:
    """How many, of all drags, are being answered in this process, so that guesses keep out of their way."""

    def __init__(self) -> None:
        self._lock = Lock()
        self._busy = 0
        self._guessing = False

    @contextmanager
    def answering(self) -> Iterator[None]:
        """While a question is answered."""
        with self._lock:
            self._busy += 1
        try:
            yield
        finally:
            with self._lock:
                self._busy -= 1

    @contextmanager
    def idle(self) -> Iterator[bool]:
        """Whether there is time for a guess, one at a time."""
        with self._lock:
            free = self._busy == 0 and not self._guessing
            self._guessing = self._guessing or free
        try:
            yield free
        finally:
            if free:
                with self._lock:
                    self._guessing = False
