"""Stopping: event streams have no end of their own, and the server waits for every answer to end."""

import asyncio
import signal
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from types import FrameType

STOPPING = (signal.SIGINT, signal.SIGTERM)


@contextmanager
def shutdown_announced(act: Callable[[], None]) -> Iterator[None]:
    """Call ``act`` in the event loop as soon as the process is told to stop, before the server begins to wait.

    The application itself hears of it only after the server has waited. Where nobody handles the signals, or not in
    this thread, nothing is changed.
    """
    loop = asyncio.get_running_loop()
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    handlers = {number: handler for number in STOPPING if callable(handler := signal.getsignal(number))}

    def stop(number: int, frame: FrameType | None) -> None:
        loop.call_soon_threadsafe(act)
        handlers[signal.Signals(number)](number, frame)

    for number in handlers:
        signal.signal(number, stop)
    try:
        yield
    finally:
        for number, handler in handlers.items():
            signal.signal(number, handler)
