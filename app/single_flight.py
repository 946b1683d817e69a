"""Results that many ask for at the same time: worked out once, and the last used ones kept."""

import asyncio
import time
from collections.abc import Callable, Hashable, MutableMapping
from concurrent.futures import Future
from threading import Lock
from typing import Generic, TypeVar

from cachetools import LRUCache, TTLCache

Key = TypeVar("Key", bound=Hashable)
Value = TypeVar("Value")


class SingleFlightCache(Generic[Key, Value]):
    """Results by key, at most ``size`` of them, the last used ones; safe between threads.

    A key must say everything that the result depends on, so that no result can be wrong, only old. With ``seconds``
    none is given out for longer than that; with 0 nothing is kept, and only those who ask at the same time share.
    What is being worked out is held beside it, so that no lack of room makes anybody work out the same a second time.
    """

    def __init__(self, size: int, seconds: float | None = None, clock: Callable[[], float] = time.monotonic) -> None:
        self._lock = Lock()
        self._kept: MutableMapping[Key, Value] = LRUCache(size) if seconds is None else TTLCache(size, seconds, clock)
        self._flights: dict[Key, Future[Value]] = {}
        self._tasks: dict[Key, asyncio.Task[Value]] = {}

    def peek(self, key: Key) -> Value | None:
        """The result, if it is there now; never waits."""
        with self._lock:
            return self._kept.get(key)

    def put(self, key: Key, value: Value) -> None:
        """Keep what was worked out already."""
        with self._lock:
            self._kept[key] = value

    def get(self, key: Key, make: Callable[[], Value]) -> Value:
        """The result; of those who ask at the same time one works it out, and the others wait for it.

        What ``make`` raises reaches all of them, and is not kept. It must not ask for its own key.
        """
        with self._lock:
            try:
                return self._kept[key]
            except KeyError:
                flight = self._flights.get(key)
                leads = flight is None
                if flight is None:
                    flight = self._flights[key] = Future()
        if leads:
            self._fly(key, flight, make)
        return flight.result()

    async def get_async(self, key: Key, make: Callable[[], Value]) -> Value:
        """The same for tasks of one event loop: however many ask, they hold one thread, in which ``make`` runs.

        Threads are few, and one that only waits for another keeps everybody else from having it. Whoever leaves does
        not take the answer from the others.
        """
        with self._lock:
            try:
                return self._kept[key]
            except KeyError:
                pass
        from fastapi.concurrency import run_in_threadpool  # the command line reads cases, too, and has no tasks

        task = self._tasks.get(key)
        if task is None:
            # The flight begins in the thread: threads that wait for one which itself waits for a thread would be stuck.
            task = self._tasks[key] = asyncio.create_task(run_in_threadpool(self.get, key, make))
            task.add_done_callback(lambda _: self._tasks.pop(key))
        return await asyncio.shield(task)

    def clear(self) -> None:
        """Forget what is kept."""
        with self._lock:
            self._kept.clear()

    def __len__(self) -> int:
        """How many results are kept."""
        with self._lock:
            return len(self._kept)

    def _fly(self, key: Key, flight: "Future[Value]", make: Callable[[], Value]) -> None:
        try:
            value = make()
        except BaseException as error:  # those who wait must hear of it, whatever it is
            with self._lock:
                del self._flights[key]
            flight.set_exception(error)
            return
        with self._lock:
            self._kept[key] = value
            del self._flights[key]
        flight.set_result(value)
