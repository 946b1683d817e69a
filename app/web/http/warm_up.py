"""What a start leaves out and the next page needs: loaded while somebody still reads the first one."""

from collections.abc import Iterator
from contextlib import contextmanager
from threading import Timer

SOON_S = 0.5


@contextmanager
def warm_up(wait_s: float = SOON_S) -> Iterator[None]:
    """Load the solver and the panels ``wait_s`` from now, in a thread of its own; not at all if this ends before."""
    timer = Timer(wait_s, _load)
    timer.start()
    try:
        yield
    finally:
        timer.cancel()


def _load() -> None:
    import app.mechanics.solve
    import app.web.panels.contents  # noqa: F401 - whoever needs them first would wait for them to load
