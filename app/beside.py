"""Long work in a process of its own, at low priority.

There it takes neither the interpreter nor a processor from answers that somebody waits for with a hand on the mouse.
The work is done with a tool, which keeps there what it has worked out before: the process makes one of its own.
The process is started by the first call, and ends when its input does, so that it outlives nobody. Until it is up, and
wherever none can be started, the work is done in the caller's thread, with a tool made here: all that depends on it is
how quick others are.
"""

import os
import pickle
import signal
import subprocess
import sys
import threading
from collections.abc import Callable
from contextlib import suppress
from functools import partial
from pathlib import Path
from typing import IO, Any, Concatenate, Generic, ParamSpec, TypeVar

Made = ParamSpec("Made")
Given = ParamSpec("Given")
Tool = TypeVar("Tool")
Value = TypeVar("Value")

LOWER = 5  # steps of priority below that of the server: it gives way, and still is done in time on a busy machine
LONGEST_S = 30.0  # what takes longer hangs
STARTS = 3  # a process that ends by itself again and again is not started any more
_SIZE = 8  # bytes that say how long a message is


class _Strange(Exception):  # noqa: N818 - nobody sees it
    """An error that the work had not foreseen."""


class Beside(Generic[Tool]):
    """One process beside this one, and one piece of work at a time in it.

    ``make`` is a function of some module that makes the tool, of plain data.
    """

    def __init__(self, make: Callable[Made, Tool], *of: Made.args, **named: Made.kwargs) -> None:
        self._make = partial(make, *of, **named)
        self._turn, self._state, self._making = threading.Lock(), threading.Lock(), threading.Lock()
        self._here: Tool | None = None
        self._process: subprocess.Popen[bytes] | None = None
        self._starts, self._starting, self._closed = STARTS, False, False

    def call(
        self, function: Callable[Concatenate[Tool, Given], Value], *given: Given.args, **named: Given.kwargs
    ) -> Value:
        """What a function of some module, or a method, makes of the tool and of plain data.

        Raises:
            ValueError: the function does.
        """
        with self._turn:
            process = self._process
            if process is not None:
                try:
                    found: Value = self._asked(process, (function, given, named))
                    return found
                except _Strange:
                    pass
                except (OSError, EOFError, pickle.PickleError):
                    self._lose(process)
        self._start()
        return function(self._tool(), *given, **named)

    def close(self) -> None:
        """End the process."""
        with self._state:
            self._closed, process, self._process = True, self._process, None
        if process is not None:
            _end(process)

    @property
    def up(self) -> bool:
        """Whether the process takes work."""
        return self._process is not None

    def _tool(self) -> Tool:
        with self._making:
            if self._here is None:
                self._here = self._make()
            return self._here

    def _asked(self, process: "subprocess.Popen[bytes]", work: tuple[Any, ...]) -> Any:
        assert process.stdin is not None
        assert process.stdout is not None
        watch = threading.Timer(LONGEST_S, process.kill)
        watch.start()
        try:
            _write(process.stdin, work)
            good, found = _read(process.stdout)
        finally:
            watch.cancel()
        if good is None:
            raise _Strange
        if not good:
            raise found
        return found

    def _start(self) -> None:
        """Start the process in the background, and have it make its tool."""
        with self._state:
            if self._closed or self._starting or self._process is not None or self._starts == 0:
                return
            self._starting, self._starts = True, self._starts - 1
        threading.Thread(target=self._begin, daemon=True).start()

    def _begin(self) -> None:
        process, made = None, False
        with suppress(OSError, EOFError, pickle.PickleError, ValueError, _Strange):
            process = subprocess.Popen(
                [sys.executable, "-m", "app.beside"],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=subprocess.DEVNULL,
                env=os.environ | {"PYTHONPATH": os.pathsep.join([str(Path(__file__).parents[1]), *_paths()])},
            )
            self._asked(process, (self._make, (), {}))
            made = True
        with self._state:
            self._starting = False
            if made and process is not None and not self._closed:
                self._process, process = process, None
                self._here = None
        if process is not None:
            _end(process)

    def _lose(self, process: "subprocess.Popen[bytes]") -> None:
        with self._state:
            if self._process is process:
                self._process = None
        _end(process)


def _paths() -> list[str]:
    return [path for path in os.environ.get("PYTHONPATH", "").split(os.pathsep) if path]


def _end(process: "subprocess.Popen[bytes]") -> None:
    for pipe in (process.stdin, process.stdout):
        if pipe is not None:
            with suppress(OSError):
                pipe.close()
    with suppress(subprocess.TimeoutExpired):
        process.wait(1.0)
        return
    process.kill()
    process.wait()


def _write(pipe: IO[bytes], message: Any) -> None:
    data = pickle.dumps(message, pickle.HIGHEST_PROTOCOL)
    pipe.write(len(data).to_bytes(_SIZE, "big"))
    pipe.write(data)
    pipe.flush()


def _read(pipe: IO[bytes]) -> Any:
    """The next message.

    Raises:
        EOFError: there is none any more.
    """
    head = pipe.read(_SIZE)
    if len(head) < _SIZE:
        raise EOFError
    data = pipe.read(int.from_bytes(head, "big"))
    return pickle.loads(data)  # of this program's own process


def _answer(work: Callable[[], Any]) -> tuple[bool | None, Any]:
    """Whether the work was done, and what it made, or the error that it raised; None: one that nobody had foreseen."""
    try:
        return True, work()
    except ValueError as error:
        return False, _plain(error)
    except Exception:  # whatever it is, the server's own thread shall meet it
        return None, ""


def _plain(error: ValueError) -> ValueError:
    """The error as it is, or where it does not travel, in its words."""
    try:
        found = pickle.loads(pickle.dumps(error))  # of this very process
    except Exception:
        return ValueError(str(error))
    return error if str(found) == str(error) else ValueError(str(error))


def work() -> None:
    """Make the tool, and answer until the input ends."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # from a terminal it goes to all; the server ends this one
    if hasattr(os, "nice"):
        os.nice(LOWER)
    with suppress(EOFError, BrokenPipeError):
        make, _, _ = _read(sys.stdin.buffer)
        made: list[Any] = []
        _write(sys.stdout.buffer, _answer(lambda: made.append(make())))
        while made:
            function, given, named = _read(sys.stdin.buffer)
            _write(sys.stdout.buffer, _answer(partial(function, made[0], *given, **named)))


if __name__ == "__main__":
    work()
