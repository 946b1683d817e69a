"""Limits on bodies, time and tries; names the server goes by; headers on every answer."""

import asyncio
import time
from collections.abc import Iterator
from pathlib import Path
from threading import Event

import pytest
from fastapi import FastAPI
from fastapi.responses import JSONResponse, Response
from hypothesis import given
from hypothesis import strategies as st
from starlette.responses import StreamingResponse
from starlette.testclient import TestClient

from app.store import Store
from app.web import Settings, create_app
from app.web.access.throttle import Tries, neighbourhood
from app.web.http.headers import MAX_BODY_BYTES
from app.web.http.hosts import host_name
from app.web.http.timeouts import ANSWER_S, TimeLimit
from tests.entrance import PHRASE, WRITES, addresses, first_answer, new_case, serving, sign_in


@pytest.fixture
def client(tmp_path: Path) -> Iterator[TestClient]:
    with serving(tmp_path) as started:
        yield started


# Headers. Directives from Content Security Policy Level 3 (W3C), X-Frame-Options from RFC 7034.


def directives(policy: str) -> dict[str, str]:
    return dict(part.strip().partition(" ")[::2] for part in policy.split(";"))


def check_headers(headers: object, where: str) -> None:
    policy = directives(headers["content-security-policy"])  # type: ignore[index]
    assert policy["default-src"] == "'none'", where
    assert policy["frame-ancestors"] == "'none'", where
    assert policy["base-uri"] == "'none'", where
    loose = ("unsafe", "*", "http:", "https:", "blob:", "strict-dynamic")
    assert not any(word in source for source in policy.values() for word in loose), where
    assert policy.get("script-src", "'none'") in ("'self'", "'none'"), where
    assert headers["x-frame-options"] == "DENY", where  # type: ignore[index]
    assert headers["x-content-type-options"] == "nosniff", where  # type: ignore[index]
    assert "access-control-allow-origin" not in headers, where  # type: ignore[operator]


@pytest.mark.parametrize("phrase", [None, PHRASE])
def test_every_answer_is_strict_and_cannot_be_framed(tmp_path: Path, phrase: str | None) -> None:
    with serving(tmp_path, phrase) as client:
        case_id = new_case(client) if phrase is None else "none"
        for path in [*addresses(client.app, case_id), "/nothing", "/api/v1/nothing", "/follow/x/cases"]:
            for method in ("GET", *WRITES):
                status, headers = first_answer(client, method, path)
                assert status < 500, f"{method} {path}: {status}"
                check_headers(headers, f"{method} {path}")


def test_refusals_before_any_route_are_strict_too(client: TestClient) -> None:
    for answer in (
        client.get("/", headers={"host": "elsewhere.example"}),
        client.post("/cases", headers={"origin": "http://elsewhere.example"}),
        client.post("/import", content=b"x" * (MAX_BODY_BYTES + 1)),
    ):
        assert answer.status_code in (403, 413, 421)
        check_headers(answer.headers, str(answer.status_code))


# Names (DNS rebinding)


@pytest.mark.parametrize("host", ["localhost", "LOCALHOST:8017", "127.0.0.1:1", "[::1]:8017", "[::1]", "localhost."])
def test_the_server_goes_by_loopback_names(client: TestClient, host: str) -> None:
    assert client.get("/", headers={"host": host}).status_code == 200


@pytest.mark.parametrize(
    "host",
    ["elsewhere.example", "localhost.elsewhere.example", "127.0.0.1.elsewhere.example", "127.0.0.2", "[::2]", "",
     "localhost:80:80", "localhost@elsewhere.example", "127.0.0.1, elsewhere.example", "0x7f000001", "localhost:x"],
)  # fmt: skip
def test_and_by_no_other(client: TestClient, host: str) -> None:
    answer = client.get("/api/v1/cases", headers={"host": host})
    assert answer.status_code == 421
    assert answer.json()["status"] == 421


def test_and_by_those_it_is_given(tmp_path: Path) -> None:
    for phrase in (None, PHRASE):
        with serving(tmp_path, phrase, ("Plates.example", "::2")) as client:
            assert client.get("/signin", headers={"host": "plates.example:8017"}).status_code in (200, 303)
            assert client.get("/signin", headers={"host": "[::2]"}).status_code in (200, 303)
            assert client.get("/signin", headers={"host": "elsewhere.example"}).status_code == 421


def test_behind_a_phrase_any_name_does_unless_some_are_given(tmp_path: Path) -> None:
    with serving(tmp_path, PHRASE) as client:
        assert client.get("/signin", headers={"host": "ward7.example"}).status_code == 200


@given(st.text(max_size=30))
def test_any_host_header_can_be_read(header: str) -> None:
    name = host_name(header)
    assert name is None or (name == name.lower() and name in header.lower())


# Bodies


def test_a_body_over_the_limit_is_refused_everywhere(client: TestClient) -> None:
    body = b'{"a":"' + b"x" * MAX_BODY_BYTES + b'"}'
    for path in addresses(client.app):
        answer = client.post(path, content=body, headers={"content-type": "application/json"})
        assert answer.status_code == 413, path
        chunks = (body[at : at + 100_000] for at in range(0, len(body), 100_000))
        answer = client.post(path, content=chunks, headers={"content-type": "application/json"})
        assert answer.status_code == 413, path


def test_nobody_without_a_pass_has_a_body_read(tmp_path: Path) -> None:
    with serving(tmp_path, PHRASE) as client:
        body = b"x" * (MAX_BODY_BYTES + 1)
        assert client.post("/import", content=body).status_code == 401
        sign_in(client)
        assert client.post("/import", content=body).status_code == 413


# Time


def refuse(path: str, status: int, sentence: str) -> Response:
    return JSONResponse({"path": path, "error": sentence}, status)


def slow_app(seconds: float) -> FastAPI:
    app = FastAPI()

    @app.get("/threads")
    def threads() -> str:
        time.sleep(30 * seconds)
        return "late"

    @app.get("/waits")
    async def waits() -> str:
        await asyncio.sleep(60)
        return "never"

    @app.get("/stream")
    async def stream() -> Response:
        async def events() -> object:
            for number in range(4):
                yield f"data: {number}\n\n"
                await asyncio.sleep(seconds)

        return StreamingResponse(events(), media_type="text/event-stream")  # type: ignore[arg-type]

    @app.get("/own")
    async def own() -> str:
        raise TimeoutError

    @app.get("/quick")
    def quick() -> str:
        return "here"

    app.add_middleware(TimeLimit, refuse=refuse, seconds=seconds)
    return app


@pytest.fixture
def slow() -> Iterator[TestClient]:
    with TestClient(slow_app(0.15), raise_server_exceptions=False) as client:
        yield client


@pytest.mark.parametrize("path", ["/threads", "/waits"])
def test_what_takes_too_long_is_given_up(slow: TestClient, path: str) -> None:
    begun = time.monotonic()
    answer = slow.get(path)
    assert answer.status_code == 503
    assert answer.json()["path"] == path
    assert "too long" in answer.json()["error"]
    assert answer.headers["retry-after"] == "5"
    assert time.monotonic() - begun < 3  # of the 4.5 it sleeps
    assert slow.get("/quick").json() == "here"


def test_a_stream_may_go_on(slow: TestClient) -> None:
    answer = slow.get("/stream")
    assert answer.text.count("data:") == 4


def test_a_timeout_inside_is_not_ours(slow: TestClient) -> None:
    assert slow.get("/own").status_code == 500


def test_a_body_that_never_ends_is_given_up() -> None:
    sent: list[dict[str, object]] = []

    async def call() -> None:
        async def receive() -> dict[str, object]:
            await asyncio.sleep(0.02)
            return {"type": "http.request", "body": b"x", "more_body": True}

        async def send(message: dict[str, object]) -> None:
            sent.append(message)

        scope = {"type": "http", "method": "POST", "path": "/threads", "headers": [], "query_string": b""}
        await limited({**scope}, receive, send)  # type: ignore[arg-type]

    async def reads_all(scope: object, receive: object, send: object) -> None:
        while (await receive())["more_body"]:  # type: ignore[operator]
            pass

    limited = TimeLimit(reads_all, refuse, seconds=0.1)  # type: ignore[arg-type]
    asyncio.run(call())
    assert sent[0]["status"] == 503


def test_the_server_has_the_limit(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    assert ANSWER_S == 10
    app = create_app(Settings(data_dir=tmp_path))
    [limit] = [entry for entry in app.user_middleware if entry.cls is TimeLimit]
    assert limit.kwargs.get("seconds", ANSWER_S) == ANSWER_S
    limit.kwargs["seconds"] = 3  # a busy machine answers what follows within that
    with TestClient(app, base_url="http://127.0.0.1") as client:
        assert client.get("/api/v1/cases").status_code == 200
        client.get("/rules")  # what the page needs is loaded, however long that takes
        released = Event()
        monkeypatch.setattr(Store, "page", lambda *_: released.wait(60))
        answer = client.get("/api/v1/cases")
        released.set()
        assert (answer.status_code, answer.json()["status"], answer.json()["faults"]) == (503, 503, [])
        check_headers(answer.headers, "too slow")
        assert client.get("/rules").status_code == 200


# Tries


def test_each_address_has_its_tries() -> None:
    tries = Tries(each=3, in_all=100, window_s=60)
    assert [tries.take("10.0.0.1", at) for at in (0, 1, 2)] == [0, 0, 0]
    assert tries.take("10.0.0.1", 10) == 50
    assert tries.take("10.0.0.2", 10) == 0
    assert tries.take("10.0.0.1", 60) == 0
    assert tries.take("10.0.0.1", 60.5) == 1


def test_refused_tries_do_not_lengthen_the_wait() -> None:
    tries = Tries(each=1, in_all=100, window_s=60)
    tries.take("10.0.0.1", 0)
    for at in range(1, 60):
        assert tries.take("10.0.0.1", at) == 60 - at
    assert tries.take("10.0.0.1", 60) == 0


def test_all_addresses_together_have_theirs() -> None:
    tries = Tries(each=3, in_all=5, window_s=60)
    assert [tries.take(f"10.0.0.{number}", number) for number in range(8)] == [0, 0, 0, 0, 0, 55, 54, 53]


def test_a_found_phrase_is_forgiven_to_its_address_only() -> None:
    tries = Tries(each=1, in_all=100, window_s=60)
    tries.take("10.0.0.1", 0)
    tries.take("10.0.0.2", 0)
    tries.forgive("10.0.0.1")
    assert tries.take("10.0.0.1", 1) == 0
    assert tries.take("10.0.0.2", 1) == 59


@given(st.lists(st.tuples(st.integers(0, 3), st.floats(0, 20)), max_size=60))
def test_no_window_ever_holds_more_than_allowed(calls: list[tuple[int, float]]) -> None:
    tries, now, let = Tries(each=3, in_all=5, window_s=30), 0.0, []
    for who, later in calls:
        now += later
        wait = tries.take(str(who), now)
        assert 0 <= wait <= 30
        if wait == 0:
            let.append((now, who))
        recent = [one for at, one in let if at > now - 30]
        assert len(recent) <= 5
        assert all(recent.count(one) <= 3 for one in range(4))


def test_an_ipv6_neighbourhood_counts_as_one() -> None:
    # RFC 4291 section 2.5.4: the interface identifier is 64 bits, and one host may pick any; 2.5.5.2: mapped IPv4.
    assert neighbourhood("2001:db8::1") == neighbourhood("2001:db8::ffff:1") == "2001:db8::/64"
    assert neighbourhood("2001:db8:0:1::1") != neighbourhood("2001:db8::1")
    assert neighbourhood("fe80::1%eth0") == "fe80::/64"
    assert neighbourhood("::ffff:10.0.0.1") == neighbourhood("10.0.0.1") == "10.0.0.1"
    assert neighbourhood("testclient") == "testclient"
