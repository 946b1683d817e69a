"""Work in a process beside: the same answers and errors as here, whatever becomes of that process."""

import math
import os
import signal
import time
from collections.abc import Iterator

import pytest

from app.beside import LOWER, Beside


@pytest.fixture
def beside() -> Iterator[Beside]:
    """One whose process is up."""
    one = Beside()
    assert one.call(math.sqrt, 4.0) == 2.0
    _until(lambda: one.up)
    yield one
    one.close()


def _until(true: object) -> None:
    deadline = time.monotonic() + 30.0
    while not true():  # type: ignore[operator]
        assert time.monotonic() < deadline
        time.sleep(0.01)


def test_the_first_answer_does_not_wait_for_the_process() -> None:
    one = Beside()
    assert one.call(os.getpid) == os.getpid()
    one.close()


@pytest.mark.skipif(not hasattr(os, "getpriority"), reason="no priorities here")
def test_it_is_another_process_of_lower_priority(beside: Beside) -> None:
    assert beside.call(os.getpid) != os.getpid()
    own = os.getpriority(os.PRIO_PROCESS, 0)
    assert beside.call(os.getpriority, os.PRIO_PROCESS, 0) == min(own + LOWER, 19)


def test_what_the_work_refuses_is_refused_here(beside: Beside) -> None:
    with pytest.raises(ValueError, match="invalid literal"):
        beside.call(int, "twelve")
    assert beside.call(math.sqrt, 9.0) == 3.0


def test_other_errors_of_the_work_are_raised_here(beside: Beside) -> None:
    with pytest.raises(ZeroDivisionError):
        beside.call(divmod, 1, 0)
    assert beside.call(os.getpid) != os.getpid()


def test_long_answers_arrive_whole(beside: Beside) -> None:
    assert beside.call(bytes, 5_000_000) == bytes(5_000_000)


def test_a_process_that_was_killed_is_replaced(beside: Beside) -> None:
    first = beside.call(os.getpid)
    os.kill(first, signal.SIGTERM)
    assert beside.call(math.sqrt, 16.0) == 4.0
    _until(lambda: beside.up and beside.call(os.getpid) not in (first, os.getpid()))


def test_the_end_ends_the_process(beside: Beside) -> None:
    pid = beside.call(os.getpid)
    beside.close()
    with pytest.raises(ProcessLookupError):
        os.kill(pid, 0)
    assert beside.call(os.getpid) == os.getpid()
