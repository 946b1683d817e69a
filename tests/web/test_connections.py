"""Before any phrase: how many connections, how long a head, how slowly; and who is believed to stand behind a proxy."""

import json
import resource
import socket
import threading
import time
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path
from typing import Any

import httpx
import pytest
from starlette.testclient import TestClient

from app.case import parse_case
from app.store import Changes, Store, watch
from app.web import Settings, create_app
from app.web.access.places import Full, Places
from app.web.http import connections
from app.web.http.connections import MOST_HEAD_BYTES, TOO_LARGE, Connections
from app.web.settings import Admission, UnfitSetting, admission_from
from tests.cases import humerus
from tests.entrance import PHRASE, new_case
from tests.serving import Server, started

MB = 1_000_000
HALF_A_REQUEST = b"GET / HTTP/1.1\r\nHost: 127.0.0.1\r\nX-Half: "


def resident(pid: int) -> int:
    """Bytes that a process holds in memory: proc(5), VmRSS in kB."""
    status = Path(f"/proc/{pid}/status").read_text(encoding="ascii")
    return int(status.split("VmRSS:")[1].split()[0]) * 1024


@contextmanager
def process(folder: Path, **more: str) -> Iterator[tuple[str, int]]:
    """``fishplate serve`` with a phrase; its address and process."""
    with started(folder / "data", FISHPLATE_PHRASE=PHRASE, **more) as (url, served):
        yield url, served.pid


@pytest.mark.skipif(not Path("/proc/self/status").exists(), reason="reads memory where Linux tells it")
def test_400_mb_of_head_and_1100_half_open_connections_cost_little_and_answers_go_on(tmp_path: Path) -> None:
    soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
    resource.setrlimit(resource.RLIMIT_NOFILE, (max(soft, min(hard, 4096)), hard))  # both ends of this attack
    with process(tmp_path) as (url, pid), ExitStack() as open_ones:
        port = int(url.rpartition(":")[2])
        before, most, tries = resident(pid), 0, 0
        for _ in range(1100):
            one = open_ones.enter_context(socket.create_connection(("127.0.0.1", port)))
            one.sendall(HALF_A_REQUEST)
        piece, sent = b"x" * 100_000, 0
        while sent < 400 * MB:  # what is cut off begins anew
            with socket.create_connection(("127.0.0.1", port)) as one:
                one.settimeout(0.5)
                try:
                    one.sendall(HALF_A_REQUEST)
                    while sent < 400 * MB:
                        one.sendall(piece)
                        sent += len(piece)
                except OSError:
                    sent += len(piece)
            tries += 1
            most = max(most, resident(pid))
            if tries % 20 == 0:
                assert httpx.get(f"{url}/health/live", timeout=2).status_code == 200
        assert httpx.get(f"{url}/signin", timeout=2).status_code == 200
        assert (most - before) / MB < 50
    resource.setrlimit(resource.RLIMIT_NOFILE, (soft, hard))


class Small(connections.Limited):
    limits = Admission(in_all=6, each=4)


@pytest.fixture
def small(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[int]:
    """A server's port, with room for four connections of one client."""
    monkeypatch.setattr(connections, "HEAD_S", 0.4)
    monkeypatch.setattr(connections, "LINGER_S", 0.2)
    server = Server(tmp_path)
    server.server.config.http = Small
    url = server.start()
    yield int(url.rpartition(":")[2])
    server.stop()


def answer(one: socket.socket) -> str:
    one.settimeout(5)
    read = b""
    try:
        while piece := one.recv(65_536):
            read += piece
    except ConnectionResetError:
        pass
    return read.decode()


def test_a_head_over_the_limit_is_refused_in_words(small: int) -> None:
    # RFC 6585, section 5: 431 Request Header Fields Too Large
    whole = HALF_A_REQUEST + b"x" * MOST_HEAD_BYTES + b"\r\n\r\n"
    pieces = [HALF_A_REQUEST, *[b"x" * 1000] * (MOST_HEAD_BYTES // 1000 + 1)]
    for parts in ([whole], pieces):
        with socket.create_connection(("127.0.0.1", small)) as one:
            for part in parts:
                one.sendall(part)
            said = answer(one)
        assert said.startswith("HTTP/1.1 431 ")
        assert "too large" in said
        assert "Content-Type: text/plain" in said


def test_the_api_says_so_as_it_says_all_errors(small: int) -> None:
    with socket.create_connection(("127.0.0.1", small)) as one:
        one.sendall(b"GET /api/v1/cases?x=" + b"x" * MOST_HEAD_BYTES + b" HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n")
        head, _, body = answer(one).partition("\r\n\r\n")
    assert head.startswith("HTTP/1.1 431 ")
    assert "Content-Type: application/json" in head
    assert json.loads(body) == {"status": 431, "error": TOO_LARGE, "faults": []}


def test_a_head_within_the_limit_and_a_body_in_the_same_piece_are_read(small: int) -> None:
    body = b"x" * 100_000
    head = b"POST /nothing HTTP/1.1\r\nHost: 127.0.0.1\r\nConnection: close\r\nContent-Length: %d\r\nX: %s\r\n\r\n"
    with socket.create_connection(("127.0.0.1", small)) as one:
        one.sendall(head % (len(body), b"y" * 20_000) + body)
        assert answer(one).startswith("HTTP/1.1 404 ")


SMUGGLED = b"GET /health/live HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n"


@pytest.mark.parametrize(
    "lines",
    [
        b"Content-Length: %d\r\nTransfer-Encoding: chunked\r\n",
        b"Transfer-Encoding: chunked\r\nContent-Length: %d\r\n",
        b"Content-Length: 0\r\nContent-Length: %d\r\n",
        b"Content-Length: 0, %d\r\n",
        b"Content-Length: +%d\r\n",
        b"Content-Length : %d\r\n",
        b"Transfer-Encoding: identity, %d\r\n",
        b"X: y\nContent-Length: %d\r\n",
        b"X: y\r\n Content-Length: %d\r\n\r\n",
    ],
)
def test_no_second_request_hides_in_the_first(small: int, lines: bytes) -> None:
    """RFC 9112, sections 6.1, 6.3 and 11.2: a length told in two ways, or in none that is allowed, is an error."""
    body = b"0\r\n\r\n" + SMUGGLED
    with socket.create_connection(("127.0.0.1", small)) as one:
        one.sendall(b"POST /nothing HTTP/1.1\r\nHost: 127.0.0.1\r\n" + lines % len(body) + b"\r\n" + body)
        said = answer(one)
    assert said.count("HTTP/1.1 ") == 1, said
    assert said.startswith("HTTP/1.1 400 "), said


def test_a_head_that_takes_too_long_ends(small: int) -> None:
    with socket.create_connection(("127.0.0.1", small)) as one:
        one.sendall(HALF_A_REQUEST)
        begun = time.monotonic()
        while not ended(one) and time.monotonic() - begun < 5:  # never silent, never done
            time.sleep(0.05)
        assert 0.3 < time.monotonic() - begun < 3


def ended(one: socket.socket) -> bool:
    """Say a little more, and look whether the other side has hung up."""
    one.settimeout(0.01)
    try:
        one.send(b"G")
        return one.recv(1) == b""
    except TimeoutError:
        return False
    except OSError:
        return True


def test_the_oldest_that_says_nothing_makes_room(small: int) -> None:
    with ExitStack() as held:
        silent = [held.enter_context(socket.create_connection(("127.0.0.1", small))) for _ in range(4)]
        assert httpx.get(f"http://127.0.0.1:{small}/health/live").status_code == 200
        assert answer(silent[0]) == ""  # cut: no answer, and no more of it


def test_connections_that_are_at_work_are_not_cut_but_no_more_are_let_in(small: int) -> None:
    with httpx.Client(base_url=f"http://127.0.0.1:{small}") as client, ExitStack() as held:
        path = "/api/v1/cases/" + client.post("/api/v1/cases", json=humerus()).json()["id"]
        client.close()
        streams = []
        for _ in range(4):
            one = held.enter_context(socket.create_connection(("127.0.0.1", small)))
            one.sendall(f"GET {path}/events HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n".encode())
            one.settimeout(5)
            assert one.recv(1000).startswith(b"HTTP/1.1 200")
            streams.append(one)
        with socket.create_connection(("127.0.0.1", small)) as fifth:
            fifth.sendall(b"GET /health/live HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n")
            said = answer(fifth)
        assert said.startswith("HTTP/1.1 503 ")
        assert "Too many connections" in said
        streams.pop().close()
        time.sleep(0.2)
        assert httpx.get(f"http://127.0.0.1:{small}/health/live").status_code == 200


class Silent:
    """Stands for a connection."""

    def __init__(self, all_of_them: Connections, who: str) -> None:
        self.all, self.who, self.was_cut = all_of_them, who, False

    def cut(self) -> None:
        self.was_cut = True
        self.all.leave(self.who, self)  # type: ignore[arg-type]


def let_in(one: Connections, who: str) -> Silent | None:
    if not one.admit(who):
        return None
    made = Silent(one, who)
    one.rest(who, made)  # type: ignore[arg-type]
    return made


def test_who_opens_most_pays_for_others() -> None:
    one = Connections(Admission(in_all=5, each=4))
    many = [let_in(one, "10.0.0.1") for _ in range(4)]
    other = [let_in(one, "10.0.0.2") for _ in range(3)]
    assert [made.was_cut for made in many if made] == [True, True, False, False]
    assert not any(made.was_cut for made in other if made)


def test_who_is_refused_leaves_nothing_behind() -> None:
    one = Connections(Admission(in_all=3, each=3))
    assert all(one.admit("10.0.0.1") for _ in range(3)), "at work: none of them can make room"
    assert not any(one.admit(f"10.1.0.{number}") for number in range(200))
    assert set(one.held) == {"10.0.0.1"}


def test_a_proxy_that_is_named_brings_as_many_as_there_is_room_for() -> None:
    named = admission_from({"FISHPLATE_PROXIES": "10.1.0.0/16, 2001:db8::/48", "FISHPLATE_CONNECTIONS_EACH": "2"})
    one = Connections(named)
    proxied = [let_in(one, who) for who in ("10.1.2.3", "2001:db8::/64") for _ in range(5)]
    assert not any(made.was_cut for made in proxied if made)
    unnamed = [let_in(one, "10.2.0.1") for _ in range(5)]
    assert [made.was_cut for made in unnamed if made] == [True] * 3 + [False] * 2


@pytest.mark.parametrize(
    ("name", "value"), [("CONNECTIONS", "0"), ("CONNECTIONS_EACH", "many"), ("PROXIES", "10.0.0.1,proxy.example")]
)
def test_a_faulty_setting_is_told_in_words(name: str, value: str) -> None:
    with pytest.raises(UnfitSetting, match=f"FISHPLATE_{name} must"):
        admission_from({f"FISHPLATE_{name}": value})


# Who stands behind a proxy


def wrong_tries(app: Any, peer: str, forwarded: list[str]) -> list[int]:
    """The answers to wrong phrases that come from one peer on behalf of others."""
    with TestClient(app, base_url="http://127.0.0.1", client=(peer, 1), follow_redirects=False) as client:
        return [
            client.post("/signin", data={"phrase": "the wrong phrase"}, headers={"x-forwarded-for": who}).status_code
            for who in forwarded
        ]


def test_tries_count_by_the_client_that_a_named_proxy_tells_of(tmp_path: Path) -> None:
    app = create_app(Settings(data_dir=tmp_path, phrase=PHRASE, proxies=("10.0.0.5/32",)))
    several = [f"192.0.2.{number}" for number in range(12)]
    assert set(wrong_tries(app, "10.0.0.5", several)) == {403}
    one = ["192.0.2.99"] * 11
    assert wrong_tries(app, "10.0.0.5", one) == [403] * 10 + [429]
    # what the client itself put before the proxy's word doesn't count
    lied = [f"198.51.100.{number}, 192.0.2.98" for number in range(11)]
    assert wrong_tries(app, "10.0.0.5", lied) == [403] * 10 + [429]


def test_nobody_else_is_believed(tmp_path: Path) -> None:
    app = create_app(Settings(data_dir=tmp_path, phrase=PHRASE, proxies=("10.0.0.5/32",)))
    several = [f"192.0.2.{number}" for number in range(11)]
    assert wrong_tries(app, "10.0.0.6", several) == [403] * 10 + [429]
    assert wrong_tries(create_app(Settings(data_dir=tmp_path, phrase=PHRASE)), "127.0.0.1", several)[-1] == 429


# Followers


def test_followers_are_capped_with_a_clear_answer(tmp_path: Path) -> None:
    app = create_app(Settings(data_dir=tmp_path, connections=4))  # 60 % of them may follow
    with TestClient(app, base_url="http://127.0.0.1") as client:
        case_id = new_case(TestClient(app, base_url="http://127.0.0.1", follow_redirects=False))
        places: Places = app.state.server.following
        with places.one("somebody", reads_only=False), places.one("another", reads_only=False):
            answer = client.get(f"/api/v1/cases/{case_id}/events")
            assert answer.status_code == 503
            assert answer.headers["retry-after"] == "10"
            assert "close some" in answer.json()["error"]
        assert len(places) == 0


def test_a_place_is_free_again_when_the_stream_ends(tmp_path: Path) -> None:
    server = Server(tmp_path)
    url = server.start()
    try:
        case = httpx.post(f"{url}/api/v1/cases", json=humerus()).json()["id"]
        following: Places = server.app.state.server.following
        with httpx.stream("GET", f"{url}/api/v1/cases/{case}/events") as stream:
            lines = stream.iter_lines()  # let go of, it would close the stream
            next(lines)
            assert len(following) == 1
        deadline = time.monotonic() + 5
        while len(following) and time.monotonic() < deadline:
            time.sleep(0.02)
        assert len(following) == 0
    finally:
        server.stop()


def test_read_only_links_leave_places_for_those_who_edit() -> None:
    places = Places(10)
    with ExitStack() as held:
        for number in range(7):
            held.enter_context(places.one(f"/follow/{number}", reads_only=True))
        with pytest.raises(Full), places.one("/follow/7", reads_only=True):
            pass
        for number in range(3):
            held.enter_context(places.one(f"10.0.0.{number}", reads_only=False))
        with pytest.raises(Full), places.one("10.0.0.9", reads_only=False):
            pass
    with ExitStack() as held:
        for _ in range(5):
            held.enter_context(places.one("/follow/1", reads_only=True))
        with pytest.raises(Full), places.one("/follow/1", reads_only=True):
            pass
        held.enter_context(places.one("/follow/2", reads_only=True))


def test_nobody_is_woken_while_nothing_is_written(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    store, changes = Store(f"sqlite:///{tmp_path / 'a.db'}"), Changes()
    other = Store(f"sqlite:///{tmp_path / 'a.db'}")
    made = store.create(parse_case(json.dumps(humerus())), "New case")
    heard: list[object] = []
    news = threading.Event()
    monkeypatch.setattr(changes, "followed", lambda: (made.id,))
    monkeypatch.setattr(changes, "tell", lambda _id, word: (heard.append(word), news.set()))
    watcher = watch(store, changes)
    try:
        assert news.wait(5)
        time.sleep(0.3)
        told = len(heard)
        time.sleep(1.2)  # it asks once a second all the same
        assert len(heard) == told
        news.clear()
        other.save(made.id, made.case.model_copy(update={"title": "Another"}), 1, "Saved")
        assert news.wait(5)
        assert 2 in heard
    finally:
        watcher.close()
        store.close()
        other.close()
