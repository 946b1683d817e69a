"""What was drawn before: while one thing is dragged, most of a drawing stays as it was."""

from collections import OrderedDict
from collections.abc import Callable, Hashable, Iterable
from threading import Lock

from app.drawing.svg import Element, Written


class Kept:
    """Parts of drawings as text, by all that they depend on; the last used ones, safe between threads."""

    def __init__(self, size: int) -> None:
        self._size = size
        self._lock = Lock()
        self._parts: OrderedDict[Hashable, Written] = OrderedDict()

    def get(self, key: Hashable, draw: Callable[[], Iterable[Element]]) -> Written:
        """The part drawn for this key, or what ``draw`` draws; a key must say everything that the part depends on."""
        with self._lock:
            found = self._parts.get(key)
            if found is not None:
                self._parts.move_to_end(key)
                return found
        made = Written(draw())
        with self._lock:
            self._parts[key] = made
            while len(self._parts) > self._size:
                self._parts.popitem(last=False)
        return made

    def clear(self) -> None:
        """Forget all."""
        with self._lock:
            self._parts.clear()
