"""The answer to a write tells what became of the write, and a write sent again happens once.

Keys: draft-ietf-httpapi-idempotency-key-header (from memory): the value is a string in quotes; a retry gets the first
result; the same key with other content is 422.
"""

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient

from app.web import Settings, create_app
from tests.cases import humerus
from tests.client import Stored
from tests.store.troubled import LONG, TROUBLES

EMPTY = {"op": "set_role", "target": 0, "hole": 0, "role": "empty"}
ADD_LAG = {"op": "add_lag", "target": 0, "value": {"position_mm": 150}}
KEY = {"Idempotency-Key": '"8e03978e-40d5-43dd-bc93-6894a57f9324"'}


@pytest.fixture
def own(tmp_path: Path) -> Iterator[TestClient]:
    """A server that may come to harm."""
    app = create_app(Settings(data_dir=tmp_path))
    with TestClient(app, base_url="http://127.0.0.1", raise_server_exceptions=False) as client:
        yield client


def revisions(client: TestClient, path: str) -> int:
    return len(client.get(f"{path}/revisions").json())


def failing(*_: Any, **__: Any) -> Any:
    raise RuntimeError("this can't be made")


def write(stored: Stored, way: str, version: int, edit: dict[str, Any] = EMPTY, **headers: str) -> Any:
    body = {"edit": edit, "seq": version} if way == "edits" else {"seq": version}
    return stored.client.post(f"{stored.path}/{way}", json=body, headers={"If-Match": f'"{version}"', **headers})


@pytest.mark.parametrize("way", ["edits", "undo", "redo"])
@pytest.mark.parametrize(
    ("broken", "lacking"),
    [
        ("app.web.panels.written.drawing", "the drawing"),
        ("app.web.panels.written.all_panels", "the figures"),
        ("app.web.panels.written.announce", "what changed"),
    ],
)
def test_a_write_whose_result_cannot_be_shown_is_answered_as_written(
    stored: Stored, monkeypatch: pytest.MonkeyPatch, way: str, broken: str, lacking: str
) -> None:
    stored.edit({"op": "set_gap", "target": 0, "gap_mm": 1})
    stored.move("undo" if way == "redo" else "redo")
    at = stored.get()["version"]
    monkeypatch.setattr(broken, failing)
    answer = write(stored, way, at)
    assert (answer.status_code, answer.headers["ETag"]) == (200, f'"{at + 1}"')
    told = answer.json()
    assert told["version"] == at + 1
    assert f"kept as version {at + 1}, but {lacking} can’t be shown" in told["status"]
    assert "undo" in told["status"]
    assert (told["drawing"] == "") == (lacking == "the drawing")
    assert (told["panels"]["summary"] is None) == (lacking == "the figures")
    assert stored.get()["version"] == at + 1


def test_a_step_back_to_what_cannot_be_judged_any_more_is_answered_as_written(
    own: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    stored = Stored(own, humerus())
    stored.edit(EMPTY)
    own.app.state.server.stored.clear()  # type: ignore[attr-defined]
    monkeypatch.setattr("app.web.state.assess_stored", failing)
    answer = stored.move("undo", version=2)
    assert (answer.status_code, answer.json()["version"], answer.json()["drawing"]) == (200, 3, "")
    assert answer.json()["status"].startswith("Undone: Hole 1: empty: kept as version 3")


def test_an_edit_undo_and_redo_sent_again_happen_once(stored: Stored) -> None:
    first = write(stored, "edits", 1, ADD_LAG, **KEY)
    assert first.status_code == 200
    # As a page sends it again: with the version from then, or with the one that it has learned of since.
    for version in (1, 2):
        again = write(stored, "edits", version, ADD_LAG, **KEY)
        assert (again.status_code, again.headers["ETag"]) == (200, '"2"')
        assert again.json()["drawing"] == first.json()["drawing"]
    for number, way in enumerate(("undo", "redo"), start=2):
        key = {"Idempotency-Key": f'"key-of-{way}"'}
        moved = write(stored, way, number, **key)
        again = write(stored, way, number, **key)
        assert (again.status_code, again.headers["ETag"]) == (200, moved.headers["ETag"]) == (200, f'"{number + 1}"')
        assert again.json()["status"].split(";")[0].rstrip(".") == moved.json()["status"].split(";")[0].rstrip(".")
    assert stored.get()["version"] == 4
    assert revisions(stored.client, stored.path) == 2


def test_what_can_be_done_only_once_is_still_answered_when_sent_again(stored: Stored) -> None:
    write(stored, "edits", 1, ADD_LAG)
    lag = {"op": "remove_lag", "target": 0, "lag": 0}
    first = write(stored, "edits", 2, lag, **KEY)
    assert first.status_code == 200, first.text
    again = write(stored, "edits", 3, lag, **KEY)
    assert (again.status_code, again.json()["version"]) == (200, 3)


def test_the_same_key_with_another_edit_is_refused(stored: Stored) -> None:
    write(stored, "edits", 1, EMPTY, **KEY)
    for way in ("edits", "undo"):
        answer = write(stored, way, 2, ADD_LAG, **KEY)
        assert answer.status_code == 422
        assert "key" in answer.json()["error"]
        assert "nothing was written" in answer.json()["error"]
    assert stored.get()["version"] == 2


@pytest.mark.parametrize("key", ['""', "x" * 101, '"with blanks in it"', "<script>", '"ünlaut-key"'])
def test_what_can_be_no_key_is_refused(stored: Stored, key: str) -> None:
    answer = stored.client.post(
        f"{stored.path}/edits",
        json={"edit": EMPTY},
        headers=[(b"If-Match", b'"1"'), (b"Idempotency-Key", key.encode())],
    )
    assert answer.status_code == 400
    assert "Idempotency-Key" in answer.json()["error"]
    assert stored.get()["version"] == 1


def test_a_case_a_what_if_and_a_copy_are_made_once(client: TestClient, stored: Stored) -> None:
    def count() -> int:
        return int(client.get("/api/v1/cases").json()["total"])

    before = count()
    key = {"Idempotency-Key": '"make-this-once"'}
    made = [client.post("/api/v1/cases", json=humerus(title="Once"), headers=key).json() for _ in range(2)]
    assert made[0] == made[1]
    assert client.post("/api/v1/cases", json=humerus(title="Other"), headers=key).status_code == 422
    pinned = [client.post(f"{stored.path}/whatifs", json={}, headers=KEY).json() for _ in range(2)]
    assert pinned[0] == pinned[1]
    assert len(client.get(f"{stored.path}/whatifs").json()) == 1
    for address, form in (
        (f"/cases/{stored.id}/duplicate", {"key": "key-of-the-copy"}),
        ("/cases", {"key": "key-of-the-beginning", "bone": "ulna"}),
    ):
        places = [client.post(address, data=form, follow_redirects=False).headers["Location"] for _ in range(2)]
        assert places[0] == places[1]
        assert client.post(address, data={**form, "key": ""}, follow_redirects=False).headers["Location"] != places[0]
    assert count() == before + 5


# What the generic answer says: only what is known.


def test_an_error_before_a_write_says_that_nothing_was_written(
    own: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    stored = Stored(own, humerus())
    monkeypatch.setattr("app.web.routes.cases.apply", failing)
    answer = write(stored, "edits", 1)
    assert (answer.status_code, answer.json()["written"]) == (500, False)
    assert answer.json()["error"].endswith("nothing was written.")
    assert stored.get()["version"] == 1


def test_an_error_after_a_write_does_not_deny_it(own: TestClient, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("app.web.routes.cases.etag", failing)  # of a new case
    answer = own.post("/api/v1/cases", json=humerus())
    assert (answer.status_code, answer.json()["written"]) == (500, True)
    assert "the change was written" in answer.json()["error"]
    assert "nothing was written" not in answer.json()["error"]
    monkeypatch.undo()
    assert own.get("/api/v1/cases").json()["total"] == 1
    monkeypatch.setattr("app.web.routes.pages._to", failing)
    page = own.post("/cases", data={"bone": "ulna"})
    assert page.status_code == 500
    assert "the change was written" in page.text


def test_an_error_in_the_midst_of_a_commit_says_that_it_is_not_known(
    own: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    stored = Stored(own, humerus())
    engine = own.app.state.server.store.engine  # type: ignore[attr-defined]
    commit, commits = engine.dialect.do_commit, []

    def lost(connection: Any) -> None:
        commits.append(connection)
        (failing if len(commits) == 2 else commit)(connection)  # the first one ends the reading

    monkeypatch.setattr(engine.dialect, "do_commit", lost)
    answer = write(stored, "edits", 1)
    monkeypatch.undo()
    assert (answer.status_code, answer.json()["written"]) == (500, None)
    assert "not known" in answer.json()["error"]


# A database in trouble.


@pytest.mark.parametrize("name", TROUBLES)
def test_a_write_into_a_database_in_trouble_is_503_and_says_what_to_do(own: TestClient, name: str) -> None:
    bring, what, remedy = TROUBLES[name]
    stored = Stored(own, humerus())
    mend = bring(own.app.state.server.store)  # type: ignore[attr-defined]
    acknowledged = 1
    for _ in range(60):
        edit = {"op": "set_note", "note": f"{acknowledged} {LONG}"}
        answer = write(stored, "edits", acknowledged, edit, **{"Idempotency-Key": f'"edit-number-{acknowledged}"'})
        if answer.status_code != 200:
            break
        acknowledged += 1
    assert name == "full" or acknowledged == 1
    told = answer.json()
    assert (answer.status_code, told["status"], told["written"]) == (503, 503, False)
    assert what.lower() in told["error"].lower()
    assert remedy in told["error"]
    form = own.post("/cases", data={"bone": "ulna"})
    assert form.status_code in ((503,) if name != "full" else (200, 503))
    page = own.get("/")
    assert page.status_code == (200 if name in ("full", "read-only", "locked") else 503)
    assert page.status_code == 200 or remedy in page.text
    mend()
    assert stored.get()["version"] == acknowledged
    again = write(stored, "edits", acknowledged, EMPTY, **{"Idempotency-Key": '"at-last"'})
    assert (again.status_code, again.json()["version"]) == (200, acknowledged + 1)


def test_of_several_bones_an_edit_says_which_it_is_about(client: TestClient) -> None:
    document = humerus()
    document["constructs"] = [document["constructs"][0], {**document["constructs"][0]}]
    stored = Stored(client, document)
    named = {
        "op": "together",
        "label": "Lean it",
        "edits": [{"op": "set_tilt", "target": 1, "hole": 0, "tilt_deg": 0.0}],
    }
    stored.edit({"op": "set_tilt", "target": 1, "hole": 0, "tilt_deg": 5.0})
    stored.edit(named)
    assert stored.get()["undo"] == "Lean it (humerus)"
    stored.edit({"op": "together", "label": "Remove humerus", "edits": [{"op": "remove_construct", "target": 1}]})
    assert stored.get()["undo"] == "Remove humerus"
