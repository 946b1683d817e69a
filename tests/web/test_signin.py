"""Signing in and out for good: over restarts, workers and phrases; whose tries count; links that are withdrawn."""

import logging
import time
from collections.abc import Iterator
from pathlib import Path

import httpx
import pytest
from starlette.testclient import TestClient
from starlette.websockets import WebSocketDisconnect

from app.store import Store, Unavailable
from app.web import Settings, create_app
from app.web.access.ended import Ended
from app.web.access.permissions import Owner, Reader
from app.web.access.shared_tries import SharedTries
from app.web.access.throttle import TRIES_ALL, TRIES_EACH, Tries
from app.web.access.tokens import READER_S, SESSION_S
from tests.cases import humerus
from tests.entrance import PHRASE, new_case, serving, sign_in
from tests.listening import listening
from tests.serving import Server

WRONG = {"phrase": "the wrong phrase"}


@pytest.fixture
def client(tmp_path: Path) -> Iterator[TestClient]:
    with serving(tmp_path, PHRASE) as started:
        yield started


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    opened = Store(f"sqlite:///{tmp_path / 'fishplate.db'}")
    yield opened
    opened.close()


def carried(client: TestClient) -> dict[str, str]:
    return {"cookie": f"fishplate={client.cookies['fishplate']}"}


def opens(client: TestClient, cookie: dict[str, str]) -> bool:
    client.cookies.clear()
    return client.get("/api/v1/cases", headers=cookie).status_code == 200


# Signing out


def test_signing_out_ends_the_cookie_itself(tmp_path: Path) -> None:
    with serving(tmp_path, PHRASE) as client:
        sign_in(client)
        kept = carried(client)  # as somebody who copied it would
        sign_in(client)
        other = carried(client)
        client.post("/signout")
        assert opens(client, kept)  # another session than the one that signed out
        client.post("/signout", headers=kept)
        assert not opens(client, kept)
        assert not opens(client, other)
    with serving(tmp_path, PHRASE) as again:
        assert not opens(again, kept)


def test_every_worker_learns_of_it_within_a_second(tmp_path: Path) -> None:
    with serving(tmp_path, PHRASE) as one, serving(tmp_path, PHRASE) as other:
        sign_in(one)
        cookie = carried(one)
        assert opens(other, cookie)
        one.post("/signout")
        deadline = time.monotonic() + 5
        while opens(other, cookie):
            assert time.monotonic() < deadline
            time.sleep(0.05)


def test_a_phrase_that_comes_back_revives_no_cookie_and_no_link(tmp_path: Path) -> None:
    for between in (PHRASE + " anew", None):
        with serving(tmp_path, PHRASE) as first:
            sign_in(first)
            cookie = carried(first)
            case_id = new_case(first)
            link = first.post(f"/api/v1/cases/{case_id}/reader-link").json()["path"]
        with serving(tmp_path, PHRASE) as same:  # a restart ends nothing
            assert opens(same, cookie)
            assert same.get(link).status_code == 303
        with serving(tmp_path, between):
            pass
        with serving(tmp_path, PHRASE) as back:
            assert not opens(back, cookie)
            assert back.get(link).status_code == 401


def test_what_is_open_closes_when_its_session_is_signed_out(tmp_path: Path) -> None:
    server = Server(tmp_path, PHRASE)
    url = server.start()
    try:
        with httpx.Client(base_url=url) as client:
            client.post("/signin", data={"phrase": PHRASE})
            cookie = {"cookie": f"fishplate={client.cookies['fishplate']}"}
            case_id = client.post("/api/v1/cases", json=humerus()).json()["id"]
            with listening(url, f"/api/v1/cases/{case_id}/events", cookie) as stream:
                stream.next()
                client.post("/signout")
                assert stream.ended.wait(3)
    finally:
        server.stop()


def test_a_live_line_answers_nobody_who_has_signed_out(client: TestClient) -> None:
    sign_in(client)
    case_id, cookie = new_case(client), carried(client)
    with client.websocket_connect(f"/api/v1/cases/{case_id}/live", headers=cookie) as line:
        line.send_text('{"seq": 1}')
        line.receive_text()
        client.post("/signout")
        line.send_text('{"seq": 2}')
        with pytest.raises(WebSocketDisconnect) as refused:
            line.receive_text()
    assert refused.value.code == 1008


# Links


def test_a_link_can_be_withdrawn_and_another_made(client: TestClient) -> None:
    sign_in(client)
    case_id, other_id = new_case(client), new_case(client)
    links = {one: client.post(f"/api/v1/cases/{one}/reader-link").json()["path"] for one in (case_id, other_id)}
    assert client.delete(f"/api/v1/cases/{case_id}/reader-link").json() == {"withdrawn": True}
    fresh = client.post(f"/api/v1/cases/{case_id}/reader-link").json()["path"]  # in the same millisecond, too
    client.cookies.clear()
    gone = client.get(f"{links[case_id]}/cases/{case_id}/drawing.svg")
    assert gone.status_code == 401
    assert "has ended" in gone.text
    assert client.get(f"{links[other_id]}/cases/{other_id}/drawing.svg").status_code == 200
    assert client.get(f"{fresh}/cases/{case_id}/drawing.svg").status_code == 200


def test_only_who_may_make_a_link_withdraws_it(client: TestClient) -> None:
    sign_in(client)
    case_id = new_case(client)
    link = client.post(f"/api/v1/cases/{case_id}/reader-link").json()["path"]
    client.cookies.clear()
    assert client.delete(f"/api/v1/cases/{case_id}/reader-link").status_code == 401
    assert client.delete(f"{link}/api/v1/cases/{case_id}/reader-link").status_code == 403
    sign_in(client)
    assert client.delete("/api/v1/cases/nothing/reader-link").status_code == 404


def test_whoever_watches_by_a_withdrawn_link_is_cut_off(tmp_path: Path) -> None:
    server = Server(tmp_path)
    url = server.start()
    try:
        case_id = httpx.post(f"{url}/api/v1/cases", json=humerus()).json()["id"]
        case = f"/api/v1/cases/{case_id}"
        link = httpx.post(f"{url}{case}/reader-link").json()["path"]
        with listening(url, f"{link}{case}/events") as stream:
            stream.next()
            httpx.delete(f"{url}{case}/reader-link")
            assert stream.ended.wait(3)
        assert httpx.get(f"{url}{link}{case}/events").status_code == 401
    finally:
        server.stop()


def test_a_clock_that_was_put_back_neither_revives_nor_forbids(store: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    ended = Ended(store)
    before = Reader("case1", int(time.time() * 1000))
    ended.withdraw("case1")
    hour_ago = time.time() - 3600
    monkeypatch.setattr(time, "time", lambda: hour_ago)
    ended.withdraw("case1")
    assert ended.over(before)
    assert not ended.over(Reader("case1", int(ended.free_s("case1") * 1000)))


def test_the_list_of_what_ended_keeps_nothing_that_has_expired(store: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    ended = Ended(store)
    ended.sign_out("a")
    ended.withdraw("case1")
    now = time.time()
    monkeypatch.setattr(time, "time", lambda: now + SESSION_S + 1)
    ended.sign_out("b")
    assert set(store.settle("ended:")) == {"ended:l:case1", "ended:s:b"}
    monkeypatch.setattr(time, "time", lambda: now + READER_S + 1)
    ended.sign_out("c")
    assert set(store.settle("ended:")) == {"ended:s:c"}


def test_what_could_not_be_written_down_holds_here_and_is_told(store: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    ended = Ended(store)

    def full(*_: object) -> dict[str, bytes]:
        raise Unavailable("the disk that holds the cases is full")

    monkeypatch.setattr(store, "settle", full)
    with pytest.raises(Unavailable):
        ended.sign_out("a")
    assert ended.over(Owner("a"))


# Tries


def test_a_browser_with_a_session_is_locked_out_by_nobody_else(client: TestClient) -> None:
    sign_in(client)
    mine = dict(client.cookies.items())
    client.cookies.clear()
    for _ in range(TRIES_EACH):  # from the same address: a ward behind one router
        assert client.post("/signin", data=WRONG).status_code == 403
    assert client.post("/signin", data={"phrase": PHRASE}).status_code == 429
    for name, value in mine.items():
        client.cookies.set(name, value, domain="127.0.0.1")
    client.post("/signout")
    sign_in(client)


def test_it_has_tries_of_its_own_and_no_more(client: TestClient) -> None:
    sign_in(client)
    for _ in range(TRIES_EACH):
        assert client.post("/signin", data=WRONG).status_code == 403
    assert client.post("/signin", data={"phrase": PHRASE}).status_code == 429
    client.cookies.clear()
    assert client.post("/signin", data={"phrase": PHRASE}).status_code == 303  # those count apart


def test_many_who_try_keep_no_known_browser_out() -> None:
    tries = Tries()
    for number in range(TRIES_ALL):
        assert tries.take(f"10.0.{number}.1", 0) == 0
    assert tries.take("10.1.0.1", 1) > 0
    assert tries.take("10.1.0.1", 1, "a-browser") == 0


def test_a_made_up_mark_is_no_known_browser(client: TestClient) -> None:
    for _ in range(TRIES_EACH):
        client.post("/signin", data=WRONG)
    for mark in ("x", "a.9999999999.x", "é".encode().decode("latin-1")):
        cookie = {"cookie": f"fishplate-known={mark}".encode("latin-1")}
        assert client.post("/signin", data={"phrase": PHRASE}, headers=cookie).status_code == 429


def test_workers_count_tries_together(store: Store) -> None:
    workers = [SharedTries(store) for _ in range(4)]
    now = time.time()
    waits = [workers[number % 4].take("10.0.0.1", now + number) for number in range(TRIES_EACH + 2)]
    assert waits[:TRIES_EACH] == [0] * TRIES_EACH
    assert min(waits[TRIES_EACH:]) > 250
    workers[0].forgive("10.0.0.1")
    assert workers[3].take("10.0.0.1", now + 20) == 0
    assert len(store.settle("try:")) == 1
    workers[1].take("10.0.0.2", now + 1000)
    assert len(store.settle("try:")) == 1  # old ones are dropped


def test_tries_are_counted_while_nothing_can_be_written(store: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(*_: object) -> dict[str, bytes]:
        raise Unavailable("the disk that holds the cases is full")

    tries = SharedTries(store)
    monkeypatch.setattr(store, "settle", full)
    assert [tries.take("10.0.0.1", 0) for _ in range(TRIES_EACH + 1)] == [0] * TRIES_EACH + [300]


def test_a_refused_sign_in_is_one_line_in_the_log(client: TestClient, caplog: pytest.LogCaptureFixture) -> None:
    with caplog.at_level(logging.WARNING):
        for _ in range(TRIES_EACH + 1):
            client.post("/signin", data=WRONG)
    said = [record.getMessage() for record in caplog.records if "sign-in refused" in record.getMessage()]
    assert len(said) == TRIES_EACH + 1
    assert "testclient" in said[0]
    assert "too many tries" in said[-1]
    assert not any("wrong phrase" in line for line in said)  # never what was typed


def test_a_database_that_cannot_be_written_lets_people_in_all_the_same(tmp_path: Path) -> None:
    app = create_app(Settings(data_dir=tmp_path, phrase=PHRASE))
    with TestClient(app, base_url="http://127.0.0.1", follow_redirects=False) as client:
        store: Store = app.state.server.store
        with store.engine.connect() as holding:
            holding.exec_driver_sql("PRAGMA query_only = ON")
        with pytest.raises(Unavailable):
            store.settle("try:", lambda _: {"try:1": b"0 somebody"})
        sign_in(client)
        assert client.get("/api/v1/cases").status_code == 200
