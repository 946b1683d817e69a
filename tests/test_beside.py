"""Work in a process beside: the same answers and errors as here, whatever becomes of that process."""

import math
import os
import signal
import time
from collections.abc import Iterator

import pytest

from app.beside import LOWER, Beside
from app.case import Fault, InvalidCase

BASE = 3.0


class Tool:
    """What the work is done with; it counts what it was asked for."""

    def __init__(self, base: float) -> None:
        self.base, self.asked = base, 0

    def sum(self, more: float) -> float:
        self.asked += 1
        return self.base + more

    def times(self) -> int:
        return self.asked

    def process(self) -> int:
        return os.getpid()

    def priority(self) -> int:
        return os.getpriority(os.PRIO_PROCESS, 0)

    def bytes(self, count: int) -> bytes:
        return bytes(count)

    def number(self, text: str) -> int:
        return int(text)

    def refuse(self) -> None:
        raise InvalidCase((Fault("constructs.0", "does not fit"),))

    def refuse_here_only(self) -> None:
        class OfThisPlaceError(ValueError):
            pass

        message = "does not travel"
        raise OfThisPlaceError(message)

    def share(self, by: int) -> float:
        return self.base / by


@pytest.fixture
def beside() -> Iterator[Beside[Tool]]:
    """One whose process is up."""
    one = Beside(Tool, BASE)
    assert one.call(Tool.sum, 4.0) == BASE + 4.0
    _until(lambda: one.up)
    yield one
    one.close()


def _until(true: object) -> None:
    deadline = time.monotonic() + 30.0
    while not true():  # type: ignore[operator]
        assert time.monotonic() < deadline
        time.sleep(0.01)


def test_the_first_answer_does_not_wait_for_the_process() -> None:
    one = Beside(Tool, BASE)
    assert one.call(Tool.process) == os.getpid()
    one.close()


@pytest.mark.skipif(not hasattr(os, "getpriority"), reason="no priorities here")
def test_it_is_another_process_of_lower_priority(beside: Beside[Tool]) -> None:
    assert beside.call(Tool.process) != os.getpid()
    own = os.getpriority(os.PRIO_PROCESS, 0)
    assert beside.call(Tool.priority) == min(own + LOWER, 19)


def test_the_tool_there_keeps_what_it_has(beside: Beside[Tool]) -> None:
    assert beside.call(Tool.times) == 0, "the first question was answered here"
    assert [beside.call(Tool.sum, more) for more in (1.0, 2.0)] == [BASE + 1.0, BASE + 2.0]
    assert beside.call(Tool.times) == 2


def test_what_the_work_refuses_is_refused_here(beside: Beside[Tool]) -> None:
    with pytest.raises(ValueError, match="invalid literal"):
        beside.call(Tool.number, "twelve")
    with pytest.raises(InvalidCase, match="does not fit") as refused:
        beside.call(Tool.refuse)
    assert refused.value.faults == (Fault("constructs.0", "does not fit"),)
    with pytest.raises(ValueError, match="does not travel"):
        beside.call(Tool.refuse_here_only)
    assert beside.call(Tool.process) != os.getpid()


def test_other_errors_of_the_work_are_raised_here(beside: Beside[Tool]) -> None:
    with pytest.raises(ZeroDivisionError):
        beside.call(Tool.share, 0)
    assert beside.call(Tool.process) != os.getpid()


def test_long_answers_arrive_whole(beside: Beside[Tool]) -> None:
    assert beside.call(Tool.bytes, 5_000_000) == bytes(5_000_000)


def test_a_process_that_was_killed_is_replaced(beside: Beside[Tool]) -> None:
    first = beside.call(Tool.process)
    os.kill(first, signal.SIGTERM)
    assert beside.call(Tool.sum, 16.0) == BASE + 16.0
    _until(lambda: beside.up and beside.call(Tool.process) not in (first, os.getpid()))


def test_a_tool_that_cannot_be_made_there_is_made_here() -> None:
    one = Beside(math.log, 0.0)
    with pytest.raises(ValueError, match="math domain"):
        one.call(float.hex)
    _until(lambda: not one._starting)
    assert not one.up
    one.close()


def test_the_end_ends_the_process(beside: Beside[Tool]) -> None:
    pid = beside.call(Tool.process)
    beside.close()
    with pytest.raises(ProcessLookupError):
        os.kill(pid, 0)
    assert beside.call(Tool.process) == os.getpid()
