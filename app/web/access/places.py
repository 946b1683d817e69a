"""Lines that stay open for hours, counted: so many in all, to one holder, and to read-only links together."""

from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager

FOLLOWERS_SHARE, LINES_SHARE, READERS_SHARE, HOLDERS_SHARE = 0.6, 0.2, 0.7, 0.5


class Full(Exception):  # noqa: N818 - reads as what it is
    """No place is left for this holder."""


class Places:
    """Places for open lines in this process; for one event loop.

    Read-only links get a part of them only, and one link or one person's machine a part of that: followers can't keep
    those out who edit.
    """

    def __init__(self, in_all: int) -> None:
        self.in_all = max(1, in_all)
        self._readers = max(1, int(self.in_all * READERS_SHARE))
        self._each = max(1, int(self.in_all * HOLDERS_SHARE))
        self._taken: Counter[tuple[bool, str]] = Counter()

    @contextmanager
    def one(self, who: str, *, reads_only: bool) -> Iterator[None]:
        """Hold a place.

        Raises:
            Full: none is left.
        """
        key = (reads_only, who)
        of_readers = sum(count for (reads, _), count in self._taken.items() if reads)
        full = self._taken.total() >= self.in_all or self._taken[key] >= self._each
        if full or (reads_only and of_readers >= self._readers):
            raise Full
        self._taken[key] += 1
        try:
            yield
        finally:
            self._taken[key] -= 1
            if not self._taken[key]:
                del self._taken[key]

    def __len__(self) -> int:
        """How many are taken."""
        return self._taken.total()
