"""What whoever runs the server is told: a line for each request that failed, and no watcher that dies unheard."""

import asyncio
import json
import logging
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from app.case import parse_case
from app.store import Changes, Store, Unavailable, watch
from tests.entrance import serving
from tests.store.troubled import LONG, TROUBLES

NAMES = {
    "full": "disk-full",
    "read-only": "read-only",
    "locked": "locked",
    "damaged": "malformed",
    "no database": "malformed",
    "moved": "missing",
    "no table": "table-missing",
}
CASE = parse_case((Path(__file__).parents[2] / "sample_cases" / "09-clavicle-simple.json").read_bytes())


@pytest.fixture
def client(tmp_path: Path) -> Iterator[TestClient]:
    with serving(tmp_path) as started:
        yield started


def lines(caplog: pytest.LogCaptureFixture) -> list[dict[str, object]]:
    return [json.loads(one.getMessage()) for one in caplog.records if one.name == "fishplate.failures"]


@pytest.mark.parametrize("name", TROUBLES)
def test_each_trouble_is_told_to_the_user_and_to_the_operator_and_ends(
    client: TestClient, caplog: pytest.LogCaptureFixture, name: str
) -> None:
    bring, what, remedy = TROUBLES[name]
    store: Store = client.app.state.server.store
    made = store.create(CASE, "New")
    store.tidy()
    mend = bring(store)
    acknowledged = 1
    for _ in range(60):
        answer = client.post(
            f"/api/v1/cases/{made.id}/edits",
            json={"edit": {"op": "set_note", "note": f"{acknowledged} {LONG}"}},
            headers={"If-Match": f'"{acknowledged}"'},
        )
        if answer.status_code != 200:
            break
        acknowledged += 1
    assert answer.status_code == 503
    assert what.lower() in answer.json()["error"].lower()
    assert remedy in answer.json()["error"]
    assert answer.json()["written"] is False
    (told,) = lines(caplog)
    assert told["cause"] == NAMES[name]
    assert (told["event"], told["status"], told["method"], told["written"]) == ("request-failed", 503, "POST", False)
    assert (told["route"], told["case"]) == ("/api/v1/cases/{case_id}/edits", made.id)
    assert str(told["do"]).endswith(".")
    mend()
    assert store.get(made.id).version == acknowledged


def test_a_readers_link_and_what_is_asked_are_not_logged(
    client: TestClient, caplog: pytest.LogCaptureFixture, monkeypatch: pytest.MonkeyPatch
) -> None:
    made = client.app.state.server.store.create(CASE, "New")
    token = client.post(f"/api/v1/cases/{made.id}/reader-link").json()["path"].rpartition("/")[2]

    def broken(*_: object) -> None:
        raise Unavailable("the disk is gone", False, "disk-error", "Look after the disk.")

    monkeypatch.setattr(Store, "get", broken)
    assert client.get(f"/follow/{token}/cases/{made.id}/drawing.svg?secret=word").status_code == 503
    (told,) = lines(caplog)
    assert token not in caplog.text.replace("\n", "")
    assert "secret=word" not in json.dumps(told)
    assert told["case"] == made.id


def test_an_unexpected_fault_says_whether_something_was_written(
    tmp_path: Path, caplog: pytest.LogCaptureFixture, monkeypatch: pytest.MonkeyPatch
) -> None:
    with serving(tmp_path) as client:
        monkeypatch.setattr(Store, "page", lambda *_: 1 / 0)
        assert client.get("/api/v1/cases").status_code == 500
    (told,) = lines(caplog)
    assert (told["cause"], told["what"], told["written"]) == ("unexpected", "ZeroDivisionError", False)


def test_what_goes_well_or_is_the_askers_fault_is_not_logged(
    client: TestClient, caplog: pytest.LogCaptureFixture
) -> None:
    assert client.get("/health/ready").status_code == 200
    assert client.get("/api/v1/cases/aaaaaaaaaaaa").status_code == 404
    assert lines(caplog) == []


@pytest.mark.parametrize("error", [RuntimeError("odd"), Unavailable("the database is damaged", False)])
def test_no_fault_ends_a_watcher(
    tmp_path: Path, caplog: pytest.LogCaptureFixture, monkeypatch: pytest.MonkeyPatch, error: Exception
) -> None:
    monkeypatch.setattr(sys.modules["app.store.watch"], "LONGEST_WAIT_S", 0.05)
    store, other = (Store(f"sqlite:///{tmp_path}/fishplate.db") for _ in range(2))
    made = store.create(CASE, "New")
    changes = Changes()

    def broken(*_: object) -> None:
        raise error

    async def scene() -> None:
        with changes.subscribe(made.id, 1) as reader:
            with monkeypatch.context() as patched:
                patched.setattr(Store, "versions", broken)
                deadline = time.monotonic() + 5
                while "cannot look for changes" not in caplog.text and time.monotonic() < deadline:
                    await asyncio.sleep(0.02)
            other.save(made.id, CASE, 1, "Edit")
            assert await asyncio.wait_for(anext(reader), 5) == 2

    with caplog.at_level(logging.WARNING):
        watcher = watch(store, changes)
        asyncio.run(scene())
        watcher.close()
    assert "cannot look for changes" in caplog.text
    store.close()
    other.close()


# HEAD


def test_head_answers_as_get_without_a_body(client: TestClient) -> None:
    """RFC 9110, section 9.3.2."""
    made = client.app.state.server.store.create(CASE, "New")
    for path in (
        "/",
        "/health/ready",
        f"/cases/{made.id}",
        f"/api/v1/cases/{made.id}",
        "/api/v1/cases/aaaaaaaaaaaa",
        "/library.zip",
        "/nowhere",
    ):
        got, head = client.get(path), client.head(path)
        assert head.status_code == got.status_code, path
        assert head.content == b""
        assert head.headers.get("content-type") == got.headers.get("content-type")
        assert head.headers.get("content-length") == got.headers.get("content-length")
        assert head.headers.get("etag") == got.headers.get("etag")
    assert client.head(f"/cases/{made.id}/delete").status_code == 405


def test_head_of_a_stream_without_end_ends(client: TestClient) -> None:
    made = client.app.state.server.store.create(CASE, "New")
    begun = time.monotonic()
    answer = client.head(f"/api/v1/cases/{made.id}/events")
    assert answer.status_code == 200
    assert answer.headers["content-type"].startswith("text/event-stream")
    assert time.monotonic() - begun < 5
