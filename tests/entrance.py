"""What the tests of letting in share: servers with and without a phrase, and every address there is."""

import asyncio
from collections.abc import Iterator
from contextlib import contextmanager
from functools import partial
from pathlib import Path
from typing import Any

from fastapi import FastAPI
from fastapi.routing import iter_route_contexts
from starlette.datastructures import Headers
from starlette.testclient import TestClient
from starlette.types import Message

from app.samples import load_samples
from app.web import Settings, create_app

PHRASE = "eight holes, six cortices"
WRITES = ("POST", "PUT", "PATCH", "DELETE")


@contextmanager
def serving(folder: Path, phrase: str | None = None, hosts: tuple[str, ...] = ()) -> Iterator[TestClient]:
    """A running application; redirects are not followed, and what a route raises reaches the test as an answer."""
    app = create_app(Settings(data_dir=folder, phrase=phrase, hosts=hosts))
    with TestClient(app, base_url="http://127.0.0.1", follow_redirects=False, raise_server_exceptions=False) as client:
        yield client


def sign_in(client: TestClient, phrase: str = PHRASE) -> None:
    answer = client.post("/signin", data={"phrase": phrase})
    assert answer.status_code == 303, answer.text


def new_case(client: TestClient) -> str:
    answer = client.post("/cases", data={"sample": load_samples()[0].key})
    assert answer.status_code == 303, answer.text
    return str(answer.headers["location"]).removeprefix("/cases/")


def addresses(app: FastAPI, case_id: str = "none") -> list[str]:
    """One address of every route and every mounted folder, the framework's own included."""
    values = {"case_id": case_id, "key": load_samples()[0].key, "which": "case"}
    found = []
    for route in iter_route_contexts(app.router.routes):
        path = route.path
        assert path is not None, f"a new kind of route: {route.original_route!r}"
        if path == "/static":
            path = "/static/css/drawing.css"
        for name in getattr(route, "param_convertors", {}):
            path = path.replace(f"{{{name}}}", values.get(name, "1"))
        found.append(path)
    assert len(found) > 25, found
    return found


def first_answer(client: TestClient, method: str, path: str) -> tuple[int, Headers]:
    """Status and headers of an answer, without waiting for its end: an event stream has none."""
    assert client.portal is not None
    app: Any = client.app
    return client.portal.call(partial(_first_answer, app, method, path))


async def _first_answer(app: FastAPI, method: str, path: str) -> tuple[int, Headers]:
    started: asyncio.Future[Message] = asyncio.get_running_loop().create_future()
    body = iter([{"type": "http.request", "body": b"", "more_body": False}])

    async def receive() -> Message:
        for message in body:
            return message
        return await asyncio.Future()

    async def send(message: Message) -> None:
        if message["type"] == "http.response.start" and not started.done():
            started.set_result(message)

    scope = {
        "type": "http",
        "http_version": "1.1",
        "method": method,
        "scheme": "http",
        "path": path,
        "raw_path": path.encode(),
        "query_string": b"",
        "root_path": "",
        "headers": [(b"host", b"127.0.0.1")],
        "client": ("127.0.0.1", 50000),
        "server": ("127.0.0.1", 8017),
        "state": {},
    }
    serving = asyncio.create_task(app(scope, receive, send))
    message = await asyncio.wait_for(started, 10)
    serving.cancel()
    await asyncio.gather(serving, return_exceptions=True)
    return message["status"], Headers(raw=message["headers"])
