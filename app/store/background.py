"""A thread beside the server's work, until it is closed."""

from threading import Event, Thread


class Background:
    """A thread that runs ``_run``, which ends soon after ``_stop`` is set; it starts when all else is made."""

    def __init__(self, name: str) -> None:
        self._stop = Event()
        self._thread = Thread(target=self._run, name=f"fishplate-{name}", daemon=True)
        self._thread.start()

    def close(self) -> None:
        """Stop, and wait for the thread; close it before the store."""
        self._stop.set()
        self._thread.join()

    def _run(self) -> None:
        raise NotImplementedError
