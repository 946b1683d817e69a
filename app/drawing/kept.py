"""What was drawn before: while one thing is dragged, most of a drawing stays as it was."""

from collections.abc import Callable, Hashable, Iterable

from app.drawing.svg import Element, Written
from app.single_flight import SingleFlightCache


class Kept:
    """Parts of drawings as text, by all that they depend on; the last used ones, safe between threads."""

    def __init__(self, size: int) -> None:
        self._parts: SingleFlightCache[Hashable, Written] = SingleFlightCache(size)

    def get(self, key: Hashable, draw: Callable[[], Iterable[Element]]) -> Written:
        """The part drawn for this key, or what ``draw`` draws; a key must say everything that the part depends on."""
        return self._parts.get(key, lambda: Written(draw()))

    def clear(self) -> None:
        """Forget all."""
        self._parts.clear()
