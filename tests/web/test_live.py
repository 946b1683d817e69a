"""The live line: previews over a WebSocket answer as requests do, to nobody else, and end in time."""

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient
from starlette.testclient import WebSocketTestSession
from starlette.websockets import WebSocketDisconnect

from app.web.http.websocket_protocol import MOST_BYTES
from app.web.routes import live
from tests.client import Stored
from tests.entrance import PHRASE, new_case, serving, sign_in

HERE = "ws://127.0.0.1"
POLICY_VIOLATION = 1008  # RFC 6455, section 7.4.1
NO_TEXT, TOO_BIG = 1003, 1009

EDITS: dict[str, Any] = {
    "a line moved": {"op": "move_fracture", "target": 0, "line": 0, "position_mm": 171.5},
    "a role": {"op": "set_role", "target": 0, "hole": 1, "role": "locking-1"},
    "nothing": None,
    "out of range": {"op": "move_fracture", "target": 0, "line": 0, "position_mm": 4000},
    "no such hole": {"op": "set_role", "target": 0, "hole": 40, "role": "neutral"},
    "no such construct": {"op": "set_role", "target": 7, "hole": 0, "role": "neutral"},
    "unknown key": {"op": "set_gap", "target": 0, "gap_mm": 1, "colour": "red"},
    "unknown edit": {"op": "paint"},
    "not a number": {"op": "set_gap", "target": 0, "gap_mm": "wide"},
}


def asked(edit: Any, **more: Any) -> str:
    return json.dumps({"construct": 0, "view": [60, 260], "seq": 3, "edit": edit, **more})


@pytest.fixture
def line(client: TestClient, stored: Stored) -> Iterator[WebSocketTestSession]:
    with client.websocket_connect(f"{HERE}{stored.path}/live") as opened:
        yield opened


@pytest.mark.parametrize("edit", EDITS.values(), ids=EDITS.keys())
def test_the_line_says_word_for_word_what_a_request_is_answered(
    client: TestClient, stored: Stored, line: WebSocketTestSession, edit: Any
) -> None:
    line.send_text(asked(edit))
    told = line.receive_json()
    assert told.pop("lines", None) is None, "the first drawing is told as a whole"
    body = client.post(
        f"{stored.path}/preview", content=asked(edit), headers={"Content-Type": "application/json"}
    ).json()
    assert told == body
    assert stored.get()["version"] == 1


def test_after_that_it_says_only_the_lines_of_the_drawing_that_are_new(
    client: TestClient, stored: Stored, line: WebSocketTestSession
) -> None:
    """RFC 6455 keeps messages in order, so the page has every drawing before when it reads what is new in the next."""
    have: list[str] = []
    places = [170.0, 171.0, 171.0, 150.0, 160.0]
    edits = [{"op": "move_fracture", "target": 0, "line": 0, "position_mm": place} for place in places]
    edits += [{"op": "add_lag", "target": 0, "value": {"position_mm": 150.0}}, EDITS["a role"], EDITS["a line moved"]]
    for count, edit in enumerate(edits):
        line.send_text(asked(edit))
        told = line.receive_json()
        if told["lines"] is None:
            have = told["drawing"].split("\n")
        else:
            assert told["drawing"] == ""
            for number, text in told["lines"].items():
                have[int(number)] = text
        assert (told["lines"] is None) == (count in (0, 5, 6)), "a whole drawing where lines came or went"
        assert "\n".join(have) == stored.preview(edit, view=[60, 260], seq=3).json()["drawing"]


def test_what_others_change_is_seen_within_a_moment(
    stored: Stored, line: WebSocketTestSession, monkeypatch: pytest.MonkeyPatch
) -> None:
    def version(shown: int | None) -> int:
        line.send_text(asked(EDITS["a line moved"], version=shown))
        return int(line.receive_json()["version"])

    monkeypatch.setattr(live, "FRESH_S", 60.0)
    assert version(1) == 1
    stored.edit(EDITS["a role"])
    assert version(1) == 1, "the page has not heard of it, and a moment is not over"
    assert version(2) == 2, "the page's own edit is there at once, whoever answered that"
    stored.edit(EDITS["a line moved"])
    assert version(None) == 3
    stored.edit({"op": "set_note", "note": "Seen elsewhere."})
    monkeypatch.setattr(live, "FRESH_S", 0.0)
    assert version(3) == 4


def test_only_the_panels_asked_for_are_made(line: WebSocketTestSession, stored: Stored) -> None:
    edit = EDITS["a line moved"]
    whole = stored.preview(edit).json()["panels"]
    assert all(whole[name] for name in ("summary", "warnings", "mechanics"))
    for panels in ([], ["summary"], ["warnings", "mechanics"]):
        part = {name: html if name in panels else None for name, html in whole.items()}
        assert stored.preview(edit, panels=panels).json()["panels"] == part
        line.send_text(asked(edit, panels=panels))
        assert line.receive_json()["panels"] == part
    assert stored.preview(edit, panels=["head"]).status_code == 422


def test_questions_are_answered_in_their_order(line: WebSocketTestSession) -> None:
    for seq in range(12):
        line.send_text(asked(EDITS["a line moved" if seq % 3 else "out of range"], seq=seq))
    told = [line.receive_json() for _ in range(12)]
    assert [answer.get("seq", answer.get("status")) for answer in told] == [
        seq if seq % 3 else 422 for seq in range(12)
    ]


@pytest.mark.parametrize(
    "text", ["", "{", "nothing", "[]", '{"edit": NaN}', "\x00", '{"seq": 1e400}', "[" * 30000, '"' + "a" * 9000 + '"']
)
def test_what_is_no_question_is_refused_and_the_line_goes_on(line: WebSocketTestSession, text: str) -> None:
    line.send_text(text)
    answer = line.receive_json()
    assert set(answer) == {"status", "error", "faults"}
    assert answer["status"] in (400, 422)
    line.send_text(asked(None))
    assert line.receive_json()["seq"] == 3


def test_a_case_that_is_not_there(client: TestClient) -> None:
    with client.websocket_connect(f"{HERE}/api/v1/cases/nosuchcase/live") as line:
        line.send_text(asked(None))
        assert line.receive_json()["status"] == 404


def test_a_message_over_the_limit_ends_the_line(line: WebSocketTestSession) -> None:
    line.send_text(" " * (MOST_BYTES + 1))
    with pytest.raises(WebSocketDisconnect) as ended:
        line.receive_text()
    assert ended.value.code == TOO_BIG


def test_bytes_are_no_question(line: WebSocketTestSession) -> None:
    line.send_bytes(b"\x00\xff")
    with pytest.raises(WebSocketDisconnect) as ended:
        line.receive_text()
    assert ended.value.code == NO_TEXT


@pytest.mark.parametrize("limit", ["IDLE_S", "LONGEST_S"])
def test_a_line_ends_in_time(client: TestClient, stored: Stored, monkeypatch: pytest.MonkeyPatch, limit: str) -> None:
    monkeypatch.setattr(live, limit, 0.05)
    with client.websocket_connect(f"{HERE}{stored.path}/live") as line, pytest.raises(WebSocketDisconnect) as ended:
        line.receive_text()
    assert ended.value.code == 1000


def refused(client: TestClient, path: str, headers: dict[str, str] | None = None) -> int:
    with pytest.raises(WebSocketDisconnect) as ended, client.websocket_connect(HERE + path, headers=headers or {}):
        pass
    return int(ended.value.code)


# Browsers let any page open a WebSocket to anywhere, cookies included (RFC 6455, section 10.2): only Origin tells.
@pytest.mark.parametrize(
    "headers",
    [
        {"Origin": "https://elsewhere.example"},
        {"Origin": "null"},
        {"Origin": "http://127.0.0.1:1"},
        {"Sec-Fetch-Site": "cross-site"},
        {"Sec-Fetch-Site": "same-site"},
        {"Host": "elsewhere.example"},
    ],
)
def test_other_sites_get_no_line(client: TestClient, stored: Stored, headers: dict[str, str]) -> None:
    assert refused(client, f"{stored.path}/live", headers) == POLICY_VIOLATION


def test_our_own_pages_do(client: TestClient, stored: Stored) -> None:
    with client.websocket_connect(f"{HERE}{stored.path}/live", headers={"Origin": "http://127.0.0.1"}) as line:
        line.send_text(asked(None))
        assert line.receive_json()["seq"] == 3


def test_only_who_signed_in_gets_a_line(tmp_path: Path) -> None:
    with serving(tmp_path, PHRASE) as client:
        sign_in(client)
        path = f"/api/v1/cases/{new_case(client)}"
        link = client.post(f"{path}/reader-link").json()["path"]
        with client.websocket_connect(f"{HERE}{path}/live") as line:
            line.send_text(asked(None))
            assert line.receive_json()["seq"] == 3
        client.cookies.clear()
        assert refused(client, f"{path}/live") == POLICY_VIOLATION
        # trying an edit is shown to all who follow, so a reader may not
        assert refused(client, f"{link}{path}/live") == POLICY_VIOLATION


def test_an_address_with_no_line(client: TestClient) -> None:
    for path in ("/", "/api/v1/cases", "/static/js/lib/live.js", "/api/v1/cases/a b/live"):
        with pytest.raises(WebSocketDisconnect), client.websocket_connect(HERE + path):
            pass
