"""Results that many ask for at the same time: worked out once, kept for a short while."""

import asyncio
import time
from collections import OrderedDict
from collections.abc import Callable, Hashable
from concurrent.futures import Future
from threading import Lock
from typing import Generic, TypeVar

from fastapi.concurrency import run_in_threadpool

Value = TypeVar("Value")


class Shared(Generic[Value]):
    """Results by key, the last used ones; safe between threads.

    A key must say everything that the result depends on, so that no result can be wrong, only old: what a case showed
    must not be shown for long after the case was deleted.
    """

    def __init__(self, size: int, seconds: float) -> None:
        self._size = size
        self._seconds = seconds
        self._lock = Lock()
        self._kept: OrderedDict[Hashable, tuple[float, Future[Value]]] = OrderedDict()

    def peek(self, key: Hashable) -> Value | None:
        """The result, if it is there now; never waits."""
        with self._lock:
            future = self._fresh(key)
        return future.result() if future is not None and future.done() and future.exception() is None else None

    def get(self, key: Hashable, make: Callable[[], Value]) -> Value:
        """The result; of those who ask at the same time one works it out, and the others wait for it.

        What ``make`` raises reaches all of them, and is not kept.
        """
        with self._lock:
            found = self._fresh(key)
            future = self._begin(key) if found is None else found
        if found is None:
            self._finish(key, future, make)
        return future.result()

    def _fresh(self, key: Hashable) -> "Future[Value] | None":
        entry = self._kept.get(key)
        if entry is None or time.monotonic() - entry[0] > self._seconds:
            return None
        self._kept.move_to_end(key)
        return entry[1]

    def _begin(self, key: Hashable) -> "Future[Value]":
        future: Future[Value] = Future()
        self._kept[key] = (time.monotonic(), future)
        self._kept.move_to_end(key)
        while len(self._kept) > self._size:
            self._kept.popitem(last=False)
        return future

    def _finish(self, key: Hashable, future: "Future[Value]", make: Callable[[], Value]) -> None:
        try:
            future.set_result(make())
        except BaseException as error:  # those who wait must hear of it, whatever it is
            with self._lock:
                self._kept.pop(key, None)
            future.set_exception(error)


class Joined(Generic[Value]):
    """Calls that many make at the same time in one event loop: made once, in one thread, and all get its answer.

    Threads are few, and one that only waits for another keeps everybody else from having it.
    """

    def __init__(self) -> None:
        self._going: dict[Hashable, asyncio.Task[Value]] = {}

    async def get(self, key: Hashable, make: Callable[[], Value]) -> Value:
        """The answer of the call that is going on under this key, or of a new one; what it raises reaches all."""
        task = self._going.get(key)
        if task is None:
            task = self._going[key] = asyncio.create_task(run_in_threadpool(make))
            task.add_done_callback(lambda _: self._going.pop(key))
        return await asyncio.shield(task)  # one who leaves doesn't take the answer from the others
