"""Limits before any phrase is asked: how many connections, how large a request's head, and how long it may take.

The server's own protocol reads a head of any length for any time, and any number of connections at once. A connection
that has no request under way can be closed without harm: where room is needed, the oldest of those makes it, so that
whoever opens many and says nothing keeps nobody else out, and loses but its own.
"""

import asyncio
import os
from collections import Counter, defaultdict
from contextlib import suppress
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any
from weakref import WeakKeyDictionary

from uvicorn.protocols.http.httptools_impl import STATUS_LINE, HttpToolsProtocol

from app.web.access.throttle import neighbourhood
from app.web.http.errors import API_PREFIX, Problem
from app.web.settings import Admission, admission_from

MOST_HEAD_BYTES = 65_536  # an edit in the address of a picture may have 16,000 signs, of three bytes each and more
HEAD_S = 10.0  # from a connection's beginning, or the answer before, to the end of the next request's head
LINGER_S = 1.0  # how long the sentence that refuses is left to be read before the connection is cut
MOST_LINGERING = 100
SPARE_FILES = 200  # database, static files, log, and those that linger

TOO_LARGE = "The request's address and headers are too large."
TOO_MANY = "Too many connections; close some, or try again in a moment."


@dataclass(slots=True)
class Connections:
    """All connections of one server: who has how many, and which of them have no request under way."""

    limits: Admission
    held: Counter[str] = field(default_factory=Counter)
    idle: dict[str, dict["Limited", None]] = field(default_factory=lambda: defaultdict(dict))
    lingering: int = 0

    def admit(self, who: str) -> bool:
        """Make room for one more, and count it; False: there is none."""
        own = 0 if self.limits.is_proxy(who) else self.held[who] + 1
        if own > self.limits.each and not self._close_oldest(who):
            return False
        if self.held.total() >= self.limits.in_all:
            most = max(self.idle, key=lambda one: len(self.idle[one]), default=None)
            if most is None or not self._close_oldest(most):
                return False
        self.held[who] += 1
        return True

    def leave(self, who: str, connection: "Limited") -> None:
        """One less."""
        self.busy(who, connection)
        self.held[who] -= 1
        if self.held[who] <= 0:
            del self.held[who]

    def rest(self, who: str, connection: "Limited") -> None:
        """It has no request under way; the longer ago, the sooner it has to go."""
        self.idle[who].pop(connection, None)
        self.idle[who][connection] = None

    def busy(self, who: str, connection: "Limited") -> None:
        """It has one."""
        if who in self.idle:
            self.idle[who].pop(connection, None)
            if not self.idle[who]:
                del self.idle[who]

    def _close_oldest(self, who: str) -> bool:
        oldest = next(iter(self.idle.get(who, ())), None)
        if oldest is None:
            return False
        oldest.cut()
        return True


_of_server: WeakKeyDictionary[Any, Connections] = WeakKeyDictionary()


@lru_cache
def _limits() -> Admission:
    given = admission_from(os.environ)
    with suppress(ImportError, OSError, ValueError):  # not every system has these limits
        import resource

        soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
        wanted = given.in_all + SPARE_FILES
        if soft < wanted:
            soft = wanted if hard == resource.RLIM_INFINITY else min(wanted, hard)
            resource.setrlimit(resource.RLIMIT_NOFILE, (soft, hard))
        return given.within(max(1, soft - SPARE_FILES))
    return given


class Limited(HttpToolsProtocol):
    """HTTP/1.1 as the server speaks it, within the limits."""

    limits: Admission | None = None  # those of the environment

    def __init__(self, *arguments: Any, **settings: Any) -> None:
        super().__init__(*arguments, **settings)
        if self.server_state not in _of_server:
            _of_server[self.server_state] = Connections(self.limits or _limits())
        self._all = _of_server[self.server_state]
        self._who = ""
        self._counted = self._leaving = False
        self._head: int | None = 0  # bytes of the head being read; None between head and answer
        self._deadline: asyncio.TimerHandle | None = None

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """Count it, or refuse it."""
        super().connection_made(transport)
        self._who = neighbourhood(self.client[0]) if self.client else "unknown"
        self._counted = self._all.admit(self._who)
        if self._counted:
            self._await_head()
        else:
            self._refuse(503, TOO_MANY)

    def connection_lost(self, exc: Exception | None) -> None:
        """Count it no more."""
        self._uncount()
        super().connection_lost(exc)

    def data_received(self, data: bytes) -> None:
        """Read on, unless the head is over the limit."""
        if self._leaving:
            return
        if self._head is not None:
            self._head += len(data)
        super().data_received(data)
        # What came in one piece may be a short head and much of a body.
        if self._head is not None and self._head > MOST_HEAD_BYTES and not self._leaving:
            self._refuse(431, TOO_LARGE)

    def on_headers_complete(self) -> None:
        """Begin with the request if its head is within the limit."""
        if self._leaving:
            return
        if len(self.url) + sum(len(name) + len(value) + 4 for name, value in self.headers) > MOST_HEAD_BYTES:
            self._refuse(431, TOO_LARGE)
            return
        self._head = None
        self._stop_clock()
        self._all.busy(self._who, self)
        super().on_headers_complete()

    def on_body(self, body: bytes) -> None:
        """Take a part of the body, of a request that was begun."""
        if not self._leaving:
            super().on_body(body)

    def on_message_complete(self) -> None:
        """End the request, if it was begun."""
        if not self._leaving:
            super().on_message_complete()

    def on_response_complete(self) -> None:
        """Wait for the next request."""
        waits = not self.pipeline
        super().on_response_complete()
        if waits and not self.transport.is_closing():
            self._await_head()

    def handle_websocket_upgrade(self) -> None:
        """Hand the connection over; from now on the route that answers it counts it."""
        self._uncount()
        super().handle_websocket_upgrade()

    def cut(self) -> None:
        """Close at once: the room is needed."""
        self._uncount()
        self.transport.abort()

    def _await_head(self) -> None:
        self._head = 0
        self._all.rest(self._who, self)
        self._stop_clock()
        self._deadline = self.loop.call_later(HEAD_S, self.cut)

    def _stop_clock(self) -> None:
        if self._deadline is not None:
            self._deadline.cancel()
            self._deadline = None

    def _uncount(self) -> None:
        self._stop_clock()
        if self._counted:
            self._counted = False
            self._all.leave(self._who, self)

    def _refuse(self, status: int, sentence: str) -> None:
        self._leaving = True
        self._uncount()
        if self._all.lingering >= MOST_LINGERING or self.transport.is_closing():
            self.transport.abort()
            return
        body, kind = sentence.encode(), b"text/plain; charset=utf-8"
        if getattr(self, "url", b"").startswith(API_PREFIX.encode()):  # as every other error of the API
            problem = Problem(status=status, error=sentence, faults=[])
            body, kind = problem.model_dump_json(exclude_unset=True).encode(), b"application/json"
        lines = (b"Content-Type: " + kind, b"Content-Length: %d" % len(body), b"Connection: close")
        again = (b"Retry-After: 5",) if status == 503 else ()
        self.transport.write(STATUS_LINE[status] + b"\r\n".join((*lines, *again, b"", body)))
        # Closing while more comes in would have the other side's system throw the sentence away unread.
        self._all.lingering += 1
        self.loop.call_later(LINGER_S, self._left)

    def _left(self) -> None:
        self._all.lingering -= 1
        self.transport.abort()
