"""Slow answers take turns, so that they keep nobody from editing, and nobody's many keep out another's one.

Suggestions, pictures and sheets take a second of a processor each, and all threads of a process share one. One of them
is made at a time; those who wait are served client by client, and of one client's the newest first: an older one was
asked by a page that shows something else by now. Whoever reads by a link waits in a line apart.
"""

import asyncio
import re
from collections import OrderedDict
from collections.abc import Awaitable

from starlette.types import ASGIApp, Receive, Scope, Send

from app.web.access.gate import PASS, holder
from app.web.access.permissions import Reader
from app.web.http.headers import Refuse
from app.web.http.timeouts import ANSWER_S

LONGEST_WAIT_S = 0.8 * ANSWER_S  # what begins later would hardly be done in time
WAITING_EACH, WAITING = 16, 64
READERS_EACH, READERS = 100, 400  # fifty who follow one drag ask for the same picture, and it is made once

SLOW = re.compile(
    r"/new-case"
    r"|/api/v1/cases/[^/]+/(layouts|map|more-lags|bands)|/cases/[^/]+/(drawing\.(png|svg)|(conference/)?map|map/list|plan\.pdf)",
    re.DOTALL,
)
READ = re.compile(
    r"/(cases|api/v1/cases)/[^/]+/(conference(/map)?|drawing\.svg|picture|steps/[0-9]+|whatifs)", re.DOTALL
)
BUSY = "The server has more of this to do than it can in time; try again in a moment."


class Busy(Exception):  # noqa: N818 - reads as what it is
    """There is no turn for this one in time."""


class Turns:
    """Turns of one kind of work, in one event loop."""

    def __init__(self, each: int, in_all: int, longest_s: float = LONGEST_WAIT_S) -> None:
        self._each = each
        self._in_all = in_all
        self._longest_s = longest_s
        self._waiting: OrderedDict[str, list[asyncio.Future[None]]] = OrderedDict()  # who is next comes first
        self._taken = False

    async def take(self, who: str) -> None:
        """Wait for a turn; whoever has it must ``give`` it back.

        Raises:
            Busy: none came in time, or newer ones came and there is no room to wait.
        """
        if not self._taken:
            self._taken = True
            return
        turn = asyncio.get_running_loop().create_future()
        self._waiting.setdefault(who, []).append(turn)
        self._make_room(who)
        try:
            async with asyncio.timeout(self._longest_s):
                await turn
        except (TimeoutError, asyncio.CancelledError) as error:
            if turn.done() and not turn.cancelled() and turn.exception() is None:
                self.give()  # it came, and nobody is there to use it
            if isinstance(error, TimeoutError):
                raise Busy from None
            raise
        finally:
            self._forget(who, turn)

    def give(self) -> None:
        """Let the next one have the turn."""
        while self._waiting:
            who, turns = next(iter(self._waiting.items()))
            turn = turns.pop()
            if turns:
                self._waiting.move_to_end(who)
            else:
                del self._waiting[who]
            if not turn.done():
                turn.set_result(None)
                return
        self._taken = False

    def _make_room(self, who: str) -> None:
        if len(self._waiting[who]) > self._each:
            self._turn_away(who)
        if sum(map(len, self._waiting.values())) > self._in_all:
            self._turn_away(max(self._waiting, key=lambda one: len(self._waiting[one])))

    def _turn_away(self, who: str) -> None:
        oldest = self._waiting[who].pop(0)
        if not oldest.done():
            oldest.set_exception(Busy())
        if not self._waiting[who]:
            del self._waiting[who]

    def _forget(self, who: str, turn: "asyncio.Future[None]") -> None:
        turns = self._waiting.get(who, [])
        if turn in turns:
            turns.remove(turn)
            if not turns:
                del self._waiting[who]


class FairTurns:
    """Has slow requests wait for their turn; everything else goes on at once."""

    def __init__(self, app: ASGIApp, refuse: Refuse) -> None:
        self._app = app
        self._refuse = refuse
        self._slow = Turns(WAITING_EACH, WAITING)
        self._read = Turns(READERS_EACH, READERS)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve one request."""
        turns = self._turns(scope)
        if turns is None:
            await self._app(scope, receive, send)
            return
        try:
            await turns.take(holder(scope))
        except Busy:
            answer = self._refuse(scope["path"], 503, BUSY)
            answer.headers["Retry-After"] = "2"
            await answer(scope, receive, send)
            return
        # Whoever is given up on leaves a thread at work; until that is done its turn isn't over.
        await _until_done(self._app(scope, receive, send), turns)

    def _turns(self, scope: Scope) -> Turns | None:
        if scope["type"] != "http":
            return None
        path = scope["path"]
        if isinstance(scope.get(PASS), Reader):
            return self._read if READ.fullmatch(path.removeprefix(scope["root_path"])) else None
        return self._slow if SLOW.fullmatch(path) else None


async def _until_done(work: Awaitable[None], turns: Turns) -> None:
    async def whole() -> None:
        try:
            await work
        finally:
            turns.give()

    task = asyncio.create_task(whole())
    task.add_done_callback(lambda done: done.cancelled() or done.exception())
    await asyncio.shield(task)
