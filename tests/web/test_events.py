"""Live follow over the wire: a real server, real streams."""

import json
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from typing import Any
from urllib.parse import urlsplit

import httpx
import pytest
from websockets.sync.client import connect

from app.drawing import fitted_view
from app.web.http.hosts import is_loopback, shareable
from tests.cases import humerus
from tests.listening import listening
from tests.serving import Server

MOVE = {"op": "move_fracture", "target": 0, "line": 0, "position_mm": 161.0}


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    server = Server(tmp_path_factory.mktemp("live"))
    server.base_url = server.start()  # type: ignore[attr-defined]
    yield server
    server.stop()


@pytest.fixture(scope="module")
def client(server: Server) -> Iterator[httpx.Client]:
    with httpx.Client(base_url=server.base_url, timeout=10) as client:  # type: ignore[attr-defined]
        yield client


class Case:
    def __init__(self, client: httpx.Client) -> None:
        self.client = client
        self.id = client.post("/api/v1/cases", json=humerus()).json()["id"]
        self.path = f"/api/v1/cases/{self.id}"
        self.events = f"{self.path}/events"

    def edit(self, edit: dict[str, Any], version: int) -> None:
        answer = self.client.post(f"{self.path}/edits", json={"edit": edit}, headers={"If-Match": f'"{version}"'})
        assert answer.status_code == 200, answer.text

    def preview(self, edit: dict[str, Any] | None, seq: int = 1) -> dict[str, Any]:
        answer = self.client.post(f"{self.path}/preview", json={"edit": edit, "seq": seq})
        assert answer.status_code == 200, answer.text
        return dict(answer.json())

    def picture(self, **query: Any) -> dict[str, Any]:
        answer = self.client.get(f"{self.path}/picture", params=query)
        assert answer.status_code == 200, answer.text
        return dict(answer.json())


@pytest.fixture
def case(client: httpx.Client) -> Case:
    return Case(client)


def test_a_stream_begins_with_the_version_and_says_how_to_come_back(client: httpx.Client, case: Case) -> None:
    with listening(str(client.base_url), case.events) as stream:
        assert stream.response.headers["content-type"].startswith("text/event-stream")
        assert stream.response.headers["cache-control"] == "no-cache"
        first = stream.next()
        assert (first.kind, first.data, first.id) == ("version", {"version": 1}, "1")
        assert first.retry is not None
        assert 100 <= first.retry <= 5000


def test_edits_previews_and_what_ifs_are_told(client: httpx.Client, case: Case) -> None:
    with listening(str(client.base_url), case.events) as stream:
        stream.next()
        case.preview(MOVE, seq=7)
        told = stream.until("preview")
        assert told.data == {"version": 1, "construct": 0, "edit": MOVE, "seq": 7, "hand": ""}
        case.preview(None, seq=8)
        assert stream.until("preview").data["edit"] is None
        case.edit(MOVE, 1)
        assert stream.until("version").id == "2"
        client.post(f"{case.path}/whatifs", json={})
        assert stream.until("pins").data == {"count": 1}


def test_a_line_that_ends_in_mid_drag_takes_back_what_it_showed(client: httpx.Client, case: Case) -> None:
    address = f"{str(client.base_url).rstrip('/')}{case.path}/live".replace("http", "ws")
    with listening(str(client.base_url), case.events) as stream:
        stream.next()
        with connect(address) as line:
            line.send(json.dumps({"edit": MOVE, "seq": 7, "hand": "a"}))
            assert stream.until("preview").data["edit"] == MOVE
        assert stream.until("preview").data == {"version": 1, "construct": 0, "edit": None, "seq": 7, "hand": "a"}


def test_an_edit_that_cannot_be_made_is_never_shown(client: httpx.Client, case: Case) -> None:
    with listening(str(client.base_url), case.events) as stream:
        stream.next()
        assert client.post(f"{case.path}/preview", json={"edit": {**MOVE, "position_mm": 900}}).status_code == 422
        assert stream.silent()


@pytest.mark.parametrize("last", ["1", "999", "x", ""])
def test_one_who_comes_back_hears_the_present_version(client: httpx.Client, case: Case, last: str) -> None:
    case.edit(MOVE, 1)
    with listening(str(client.base_url), case.events, {"Last-Event-ID": last}) as stream:
        assert stream.next().data == {"version": 2}


def test_a_deleted_case_ends_its_streams_and_has_none_after(client: httpx.Client, case: Case) -> None:
    with listening(str(client.base_url), case.events) as stream:
        stream.next()
        client.post(f"/cases/{case.id}/delete")
        assert stream.ended.wait(3)
    answer = client.get(case.events)
    assert answer.status_code == 404
    assert set(answer.json()) == {"status", "error", "faults"}


def test_whoever_leaves_is_forgotten(server: Server, client: httpx.Client, case: Case) -> None:
    changes = server.app.state.server.changes
    with listening(str(client.base_url), case.events) as stream:
        stream.next()
        assert case.id in changes.followed()
    for _ in range(100):
        if case.id not in changes.followed():
            break
        case.preview(MOVE)  # a gone reader is noticed at the next word at the latest
    assert case.id not in changes.followed()


# Pictures


def test_a_picture_is_the_stored_case_or_the_edit_tried_on_it(case: Case) -> None:
    stored = case.picture()
    tried = case.picture(version=1, edit=json.dumps(MOVE))
    assert (stored["tried"], tried["tried"]) == (False, True)
    assert stored["drawing"] != tried["drawing"]
    case.edit(MOVE, 1)
    now = case.picture()
    assert now["version"] == 2
    assert (now["tried"], now["words"]) == (False, tried["words"])


def test_an_edit_on_another_version_is_left_out(case: Case) -> None:
    case.edit({"op": "set_note", "note": "x"}, 1)
    for version in (1, 3):
        picture = case.picture(version=version, edit=json.dumps(MOVE))
        assert (picture["version"], picture["tried"]) == (2, False)


def test_a_drag_keeps_the_window_of_the_stored_construct(server: Server, case: Case) -> None:
    state = server.app.state.server
    window = fitted_view(state.assessed(state.store.get(case.id)).constructs[0].layout).text
    for position in (130.0, 190.0):
        edit = json.dumps({**MOVE, "position_mm": position})
        assert f'data-view="{window}"' in case.picture(version=1, edit=edit)["drawing"]


def test_pictures_write_nothing(client: httpx.Client, case: Case) -> None:
    before = client.get(case.path).json()
    case.picture(version=1, edit=json.dumps(MOVE))
    assert client.get(case.path).json() == before


def test_every_step_of_the_order_and_a_variant(client: httpx.Client, case: Case) -> None:
    steps = case.picture()["steps"]
    assert steps > 3
    drawings = [case.picture(step=step) for step in range(steps + 2)]
    assert [one["step"] for one in drawings] == [*range(steps + 1), steps]
    assert f"Step 1 of {steps}" in drawings[1]["words"]
    kept = client.post(f"{case.path}/whatifs", json={"name": "As it was"}).json()
    case.edit({"op": "set_role", "target": 0, "hole": 0, "role": "empty"}, 1)
    assert case.picture(variant=f"w{kept['id']}")["label"] == "As it was"
    assert case.picture(variant=f"w{kept['id']}")["words"] != case.picture()["words"]


@pytest.mark.parametrize(
    ("query", "status"),
    [({"edit": "{"}, 422), ({"edit": "[]"}, 422), ({"edit": "{}", "version": 1}, 422), ({"variant": "w0"}, 404),
     ({"variant": "r1"}, 422), ({"construct": 1}, 404), ({"step": -1}, 422), ({"edit": "1" * 30_000}, 422),
     ({"version": 2**60}, 422), ({"edit": "[" * 9000}, 422)],
)  # fmt: skip
def test_what_is_no_picture_is_told(client: httpx.Client, case: Case, query: dict[str, Any], status: int) -> None:
    answer = client.get(f"{case.path}/picture", params=query)
    assert answer.status_code == status, answer.text
    assert set(answer.json()) == {"status", "error", "faults"}


def test_fifty_who_follow_cost_one_picture(
    server: Server, client: httpx.Client, case: Case, monkeypatch: pytest.MonkeyPatch
) -> None:
    from app.web.routes import events as follow

    made = []
    real = follow.picture
    monkeypatch.setattr(follow, "picture", lambda *given: (made.append(1), real(*given))[1])
    query = {"version": 1, "edit": json.dumps({**MOVE, "position_mm": 163.5})}
    with ThreadPoolExecutor(20) as pool:
        found = list(pool.map(lambda _: case.picture(**query)["drawing"], range(50)))
    assert len(set(found)) == 1
    assert len(made) == 1


def test_the_conference_page_is_whole_and_edits_nothing(client: httpx.Client, case: Case) -> None:
    page = client.get(f"/cases/{case.id}/conference").text
    assert page.count("Not a medical device.") == 1
    assert "data-edit" not in page
    assert "<form" not in page.split("<dialog")[0]
    assert "<input" not in page.split("<dialog")[0]
    assert client.get(f"/cases/{case.id}/conference?construct=1").status_code == 404
    assert client.get("/cases/nothing/conference").status_code == 404


def test_the_readers_page_is_made_of_what_a_reader_may_read(client: httpx.Client, case: Case) -> None:
    made = client.post(f"{case.path}/reader-link").json()
    link = made["path"]
    page = client.get(link, follow_redirects=True)
    assert page.status_code == 200
    assert 'id="to-sketch"' not in page.text
    assert 'data-do="link"' not in page.text
    assert f'<time datetime="{made["expires_at"].replace("Z", "+00:00")}">' in page.text
    for part in page.text.split('"'):
        if part.startswith("/") and not part.startswith("/>"):
            assert part.startswith(link), part
            if "/static/" in part:
                assert client.get(part).status_code == 200, part
    assert client.get(f"{link}{case.path}/picture").status_code == 200
    with listening(str(client.base_url), f"{link}{case.events}") as stream:
        assert stream.next().data == {"version": 1}
    refused = client.post(f"{link}{case.path}/edits", json={"edit": MOVE}, headers={"If-Match": '"1"'})
    assert refused.status_code == 403


def test_a_picture_that_is_ready_is_the_one_that_was_made(client: httpx.Client, case: Case) -> None:
    query = {"version": 1, "edit": json.dumps(MOVE), "construct": 0, "step": 0, "variant": "now"}
    first, again = (client.get(f"{case.path}/picture", params=query) for _ in range(2))
    assert first.content == again.content
    assert first.headers["content-type"] == again.headers["content-type"]
    assert again.headers["content-security-policy"]
    # Whatever is not exactly what was made is checked as ever.
    for wrong in ({"version": "x"}, {"version": "-1"}, {"step": ""}, {"construct": "٣"}, {"variant": "W1"}):
        assert client.get(f"{case.path}/picture", params=query | wrong).status_code == 422
    assert client.get(f"/follow/nobody{case.path}/picture", params=query).status_code == 401


@pytest.mark.parametrize(
    ("asked", "names", "address", "for_others"),
    [
        ("http://127.0.0.1:8000/", (), "http://127.0.0.1:8000", False),
        ("http://localhost:8000/", ("localhost",), "http://localhost:8000", False),
        ("http://127.0.0.1:8000/", ("localhost", "plates.clinic.example"), "http://plates.clinic.example:8000", True),
        ("http://[::1]:8000/", ("2001:db8::5",), "http://[2001:db8::5]:8000", True),
        ("https://plates.clinic.example/", ("10.0.0.5",), "https://plates.clinic.example", True),
    ],
)
def test_a_link_leads_here_from_other_machines(
    asked: str, names: tuple[str, ...], address: str, for_others: bool
) -> None:
    """Names and addresses reserved for documentation: RFC 2606, RFC 3849."""
    assert shareable(asked, names) == address
    assert is_loopback(urlsplit(address).hostname or "") is not for_others


def test_the_link_is_told_with_the_name_it_was_asked_for(client: httpx.Client, case: Case) -> None:
    made = client.post(f"{case.path}/reader-link").json()
    assert made["address"] == f"{str(client.base_url).rstrip('/')}{made['path']}"
    assert made["for_others"] is False
