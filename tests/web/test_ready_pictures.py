"""Pictures for those who follow: of many who ask for the same one at once, one asks the route."""

import asyncio
from types import SimpleNamespace
from typing import Any

import pytest
from starlette.types import Message, Receive, Scope, Send

from app.single_flight import SingleFlightCache
from app.web.http.ready_pictures import ReadyPictures

CASE = "abcdefghijkm"
KEY = (CASE, 3, 0, "now", 0, 1, None)


class Route:
    """Answers when it is let, with a picture that is kept from then on, or with a fault."""

    def __init__(self, status: int = 200) -> None:
        self.asked = 0
        self.status = status
        self.go_on = asyncio.Event()
        self.pictures: SingleFlightCache[Any, bytes] = SingleFlightCache(8)

    async def __call__(self, _scope: Scope, _receive: Receive, send: Send) -> None:
        self.asked += 1
        await self.go_on.wait()
        if self.status == 200:
            self.pictures.put(KEY, b"{}")
        await send({"type": "http.response.start", "status": self.status, "headers": []})
        await send({"type": "http.response.body", "body": b"{}", "more_body": False})

    @property
    def scope(self) -> Scope:
        app = SimpleNamespace(state=SimpleNamespace(server=SimpleNamespace(pictures=self.pictures)))
        where = {"path": f"/api/v1/cases/{CASE}/picture", "query_string": b"version=3"}
        return {"type": "http", "method": "GET", "headers": [], "app": app, **where}


class Follower:
    """One who asks; ``slow`` ones never take what they get."""

    def __init__(self, *, slow: bool = False) -> None:
        self.messages: list[Message] = []
        self._slow = slow

    async def send(self, message: Message) -> None:
        self.messages.append(message)
        if self._slow:
            await asyncio.Event().wait()

    async def ask(self, pictures: ReadyPictures, scope: Scope) -> int:
        await pictures(scope, _nothing_more, self.send)
        return int(self.messages[0]["status"])


async def _nothing_more() -> Message:
    return {"type": "http.disconnect"}


async def asked_by(route: Route, followers: list[Follower]) -> list["asyncio.Task[int]"]:
    """All of them ask, and wait by now."""
    pictures = ReadyPictures(route)
    tasks = [asyncio.create_task(one.ask(pictures, route.scope)) for one in followers]
    for _ in range(5):
        await asyncio.sleep(0)
    return tasks


def test_one_of_fifty_asks_the_route_and_all_get_its_picture() -> None:
    async def play() -> None:
        route, followers = Route(), [Follower() for _ in range(50)]
        tasks = await asked_by(route, followers)
        route.go_on.set()
        assert await asyncio.gather(*tasks) == [200] * 50
        assert route.asked == 1
        assert [one.messages[1]["body"] for one in followers] == [b"{}"] * 50

    asyncio.run(play())


def test_where_the_first_gets_no_picture_each_is_told_why() -> None:
    async def play() -> None:
        route, followers = Route(404), [Follower() for _ in range(5)]
        tasks = await asked_by(route, followers)
        assert route.asked == 1
        route.go_on.set()
        assert await asyncio.gather(*tasks) == [404] * 5
        assert route.asked == 5

    asyncio.run(play())


@pytest.mark.parametrize("slow", [False, True], ids=["leaves", "reads slowly"])
def test_a_first_one_who_leaves_or_reads_slowly_holds_up_nobody(slow: bool) -> None:
    async def play() -> None:
        route, others = Route(), [Follower() for _ in range(5)]
        first, *tasks = await asked_by(route, [Follower(slow=slow), *others])
        if not slow:
            first.cancel()
        route.go_on.set()
        assert await asyncio.wait_for(asyncio.gather(*tasks), 5) == [200] * 5
        first.cancel()
        await asyncio.gather(first, return_exceptions=True)

    asyncio.run(play())
