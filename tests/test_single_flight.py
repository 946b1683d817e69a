"""The one cache: many who ask at once cost one piece of work, and what is kept is bounded in number and in time.

What "single flight" means is that of Go's ``golang.org/x/sync/singleflight`` (its package documentation, from memory):
"only one execution is in-flight for a given key at a time. If a duplicate comes in, the duplicate caller waits for the
original to complete and receives the same results". What "least recently used" means is modelled by a list.
"""

import asyncio
import gc
import threading
import weakref
from collections.abc import Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from typing import Any

import anyio.to_thread
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, rule

from app import single_flight
from app.single_flight import SingleFlightCache


class Work:
    """Something slow: counts how often it is done, and waits until it may end."""

    def __init__(self, answer: object = "done") -> None:
        self.times = 0
        self.begun, self.may_end = threading.Event(), threading.Event()
        self._answer = answer

    def __call__(self) -> Any:
        self.times += 1
        self.begun.set()
        assert self.may_end.wait(10)
        if isinstance(self._answer, BaseException):
            raise self._answer
        return self._answer


class Interrupted(BaseException):
    """As a signal would be: no Exception."""


@pytest.fixture
def cache() -> SingleFlightCache[str, Any]:
    return SingleFlightCache(4)


def asked_by_threads(cache: SingleFlightCache[str, Any], work: Work, count: int) -> list[Any]:
    """What each thread got: all but one wait before the work ends."""
    waiting = threading.Semaphore(0)

    class Watched(Future[Any]):
        def result(self, timeout: float | None = None) -> Any:
            waiting.release()
            return super().result(timeout)

    def ask() -> Any:
        try:
            return cache.get("key", work)
        except BaseException as error:
            return error

    with pytest.MonkeyPatch.context() as patch, ThreadPoolExecutor(count) as pool:
        patch.setattr(single_flight, "Future", Watched)
        asked = [pool.submit(ask) for _ in range(count)]
        for _ in range(count - 1):
            assert waiting.acquire(timeout=10)
        work.may_end.set()
        return [one.result() for one in asked]


def test_threads_that_ask_at_once_cost_one_piece_of_work(cache: SingleFlightCache[str, Any]) -> None:
    work = Work(object())
    got = asked_by_threads(cache, work, 16)
    assert work.times == 1
    assert len({id(one) for one in got}) == 1
    assert cache.peek("key") is got[0]


@pytest.mark.parametrize("error", [ValueError("no"), Interrupted()])
def test_what_goes_wrong_reaches_all_threads_and_is_not_kept(
    cache: SingleFlightCache[str, Any], error: BaseException
) -> None:
    got = asked_by_threads(cache, Work(error), 8)
    assert all(one is error for one in got)
    assert cache.peek("key") is None
    assert cache.get("key", lambda: "now it can") == "now it can"


def test_while_something_is_worked_out_other_keys_are_answered_and_a_peek_does_not_wait(
    cache: SingleFlightCache[str, Any],
) -> None:
    work = Work()
    with ThreadPoolExecutor(1) as pool:
        slow = pool.submit(cache.get, "key", work)
        assert work.begun.wait(10)
        assert cache.peek("key") is None
        assert [cache.get(str(number), lambda number=number: number) for number in range(9)] == list(range(9))
        second = threading.Thread(target=cache.get, args=("key", work))
        second.start()
        work.may_end.set()
        assert slow.result() == "done"
        second.join()
    assert work.times == 1, "nine others fill the cache, and yet the one who waited found the work going on"


def test_fifty_tasks_that_ask_at_once_hold_one_thread(cache: SingleFlightCache[str, Any]) -> None:
    work = Work()

    async def ask() -> tuple[list[Any], int]:
        limiter = anyio.to_thread.current_default_thread_limiter()
        tasks = [asyncio.create_task(cache.get_async("key", work)) for _ in range(50)]
        while not work.begun.is_set():
            await asyncio.sleep(0.001)
        held = limiter.borrowed_tokens
        work.may_end.set()
        return await asyncio.gather(*tasks), held

    got, held = asyncio.run(ask())
    assert (got, held, work.times) == (["done"] * 50, 1, 1)
    assert asyncio.run(cache.get_async("key", lambda: "anew")) == "done"


def test_tasks_and_threads_share_the_same_piece_of_work(cache: SingleFlightCache[str, Any]) -> None:
    work = Work()

    async def ask() -> list[Any]:
        with ThreadPoolExecutor(3) as pool:
            threads = [pool.submit(cache.get, "key", work) for _ in range(3)]
            tasks = [asyncio.create_task(cache.get_async("key", work)) for _ in range(3)]
            await asyncio.sleep(0.02)
            work.may_end.set()
            return [*await asyncio.gather(*tasks), *(one.result() for one in threads)]

    assert asyncio.run(ask()) == ["done"] * 6
    assert work.times == 1


def test_threads_that_wait_for_a_task_are_never_stuck(cache: SingleFlightCache[str, Any]) -> None:
    """All threads but none left for the work: whoever asks in a thread does the work itself."""

    async def ask() -> list[Any]:
        limiter = anyio.to_thread.current_default_thread_limiter()
        limiter.total_tokens = 2
        tasks = [cache.get_async("key", lambda: 1)]
        threads = [anyio.to_thread.run_sync(cache.get, "key", lambda: 1) for _ in range(6)]
        async with asyncio.timeout(10):
            return list(await asyncio.gather(*threads, *tasks))

    assert asyncio.run(ask()) == [1] * 7


def test_what_goes_wrong_reaches_all_tasks_and_is_not_kept(cache: SingleFlightCache[str, Any]) -> None:
    error = ValueError("no")
    work = Work(error)
    work.may_end.set()

    async def ask() -> list[Any]:
        return await asyncio.gather(*(cache.get_async("key", work) for _ in range(20)), return_exceptions=True)

    assert all(one is error for one in asyncio.run(ask()))
    assert work.times == 1
    assert asyncio.run(cache.get_async("key", lambda: 2)) == 2


def test_one_who_leaves_does_not_take_the_answer_from_the_others(cache: SingleFlightCache[str, Any]) -> None:
    work = Work()

    async def ask() -> list[Any]:
        first, second, third = (asyncio.create_task(cache.get_async("key", work)) for _ in range(3))
        while not work.begun.is_set():
            await asyncio.sleep(0.001)
        first.cancel()
        third.cancel()
        await asyncio.sleep(0)
        work.may_end.set()
        return await asyncio.gather(first, second, third, return_exceptions=True)

    gone, got, gone_too = asyncio.run(ask())
    assert isinstance(gone, asyncio.CancelledError)
    assert isinstance(gone_too, asyncio.CancelledError)
    assert (got, work.times) == ("done", 1)


def test_nothing_is_kept_for_longer_than_it_may_be() -> None:
    now = [0.0]
    cache: SingleFlightCache[str, int] = SingleFlightCache(4, 30.0, lambda: now[0])
    assert cache.get("key", lambda: 1) == 1
    now[0] = 29.9
    assert cache.get("key", lambda: 2) == 1, "asking for it makes it no younger, and no older"
    now[0] = 30.1
    assert cache.peek("key") is None
    assert cache.get("key", lambda: 3) == 3


def test_with_no_time_at_all_only_those_who_ask_at_once_share() -> None:
    cache: SingleFlightCache[str, Any] = SingleFlightCache(4, 0.0)
    assert asked_by_threads(cache, work := Work(), 8) == ["done"] * 8
    assert work.times == 1
    assert cache.peek("key") is None
    assert cache.get("key", lambda: "anew") == "anew"
    assert len(cache) == 0


def test_none_is_a_result_like_others(cache: SingleFlightCache[str, Any]) -> None:
    made: list[int] = []
    for _ in range(2):
        assert cache.get("key", lambda: made.append(1)) is None
    assert made == [1]


def test_what_fell_out_is_let_go(cache: SingleFlightCache[str, Any]) -> None:
    class Big:
        pass

    held = [weakref.ref(cache.get(str(number), Big)) for number in range(10)]
    gc.collect()
    assert [one() is not None for one in held] == [False] * 6 + [True] * 4


@settings(max_examples=60, stateful_step_count=40, deadline=None)
class AgainstAModel(RuleBasedStateMachine):
    """Whatever is asked in whatever order: as of a plain list of pairs, the last used one at its end."""

    @initialize(size=st.integers(1, 5), seconds=st.none() | st.integers(1, 9))
    def begin(self, size: int, seconds: int | None) -> None:
        self.size, self.seconds, self.now = size, seconds, 0
        self.cache: SingleFlightCache[int, int] = SingleFlightCache(size, seconds, lambda: self.now)
        self.model: dict[int, tuple[int, int]] = {}  # value and moment it was kept; the last used one at the end

    def alive(self) -> Iterator[int]:
        return (
            key for key, (_, since) in self.model.items() if self.seconds is None or self.now - since < self.seconds
        )

    def used(self, key: int) -> int | None:
        if key not in set(self.alive()):
            return None
        self.model[key] = self.model.pop(key)
        return self.model[key][0]

    def keep(self, key: int, value: int) -> None:
        self.model = {one: self.model[one] for one in self.alive() if one != key}
        self.model[key] = value, self.now
        while len(self.model) > self.size:
            del self.model[next(iter(self.model))]

    @rule(key=st.integers(0, 7), value=st.integers())
    def get(self, key: int, value: int) -> None:
        known = self.used(key)
        assert self.cache.get(key, lambda: value) == (value if known is None else known)
        if known is None:
            self.keep(key, value)

    @rule(key=st.integers(0, 7), value=st.integers())
    def get_async(self, key: int, value: int) -> None:
        known = self.used(key)
        assert asyncio.run(self.cache.get_async(key, lambda: value)) == (value if known is None else known)
        if known is None:
            self.keep(key, value)

    @rule(key=st.integers(0, 7))
    def fail(self, key: int) -> None:
        if self.used(key) is None:
            with pytest.raises(ZeroDivisionError):
                self.cache.get(key, lambda: 1 // 0)

    @rule(key=st.integers(0, 7))
    def peek(self, key: int) -> None:
        assert self.cache.peek(key) == self.used(key)

    @rule(key=st.integers(0, 7), value=st.integers())
    def put(self, key: int, value: int) -> None:
        self.cache.put(key, value)
        self.keep(key, value)

    @rule()
    def clear(self) -> None:
        self.cache.clear()
        self.model.clear()

    @rule(by=st.integers(1, 5))
    def later(self, by: int) -> None:
        self.now += by

    @invariant()
    def never_more_than_there_is_room_for(self) -> None:
        assert len(self.cache) == len(set(self.alive())) <= self.size


TestAgainstAModel = AgainstAModel.TestCase


@given(st.lists(st.integers(0, 9), max_size=60))
@settings(max_examples=20, deadline=None)
def test_many_threads_at_once_never_get_a_result_of_another_key(asked: list[int]) -> None:
    cache: SingleFlightCache[int, int] = SingleFlightCache(3)
    with ThreadPoolExecutor(8) as pool:
        got = list(pool.map(lambda key: cache.get(key, lambda: key * 100), asked))
    assert got == [key * 100 for key in asked]
    assert len(cache) <= 3
