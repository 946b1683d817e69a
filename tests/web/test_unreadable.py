"""A case or a what-if that can't be read: said so on a page of its own, and in nobody else's way."""

import io
import json
import zipfile
from collections.abc import Iterator
from pathlib import Path

import pytest
from fastapi.testclient import TestClient
from sqlalchemy import text

from app.web import Settings, create_app
from tests.cases import humerus
from tests.client import Stored
from tests.store.damaged import damage as damage_revision

LATER = '{"format": "fishplate-case/99", "title": "Later"}'
EMPTY = {"op": "set_role", "target": 0, "hole": 0, "role": "empty"}


@pytest.fixture
def own(tmp_path: Path) -> Iterator[TestClient]:
    app = create_app(Settings(data_dir=tmp_path))
    with TestClient(app, base_url="http://127.0.0.1", raise_server_exceptions=False) as client:
        yield client


def damage(client: TestClient, document_id: str, which: str) -> int:
    """Spoil the first or last revision; answers its number."""
    store = client.app.state.server.store  # type: ignore[attr-defined]
    with store.engine.connect() as connection:
        number: int = connection.execute(
            text(f"SELECT {which}(id) FROM revision WHERE document_id = :id"), {"id": document_id}
        ).scalar_one()
    damage_revision(store, number, LATER)
    store._read.cases.clear()
    return number


@pytest.fixture
def edited(own: TestClient) -> Stored:
    stored = Stored(own, humerus(title="Damaged one"))
    own.post(f"{stored.path}/whatifs", json={"name": "As it was"})
    stored.edit(EMPTY)
    return stored


def test_an_unreadable_case_has_a_page_that_leads_back(own: TestClient, edited: Stored) -> None:
    number = damage(own, edited.id, "max")
    for address in ("", "/plan", "/compare", "/conference", "/tools", "/export", "/drawing.svg"):
        page = own.get(f"/cases/{edited.id}{address}")
        assert page.status_code == 409
        assert "Damaged one: this case can’t be read" in page.text
    assert f'action="/cases/{edited.id}/earlier"' in page.text
    assert "back to “New case”" in page.text
    raw = own.get(f"/cases/{edited.id}/stored?revision={number}")
    assert raw.text == LATER
    assert "attachment" in raw.headers["Content-Disposition"]
    back = own.post(f"/cases/{edited.id}/earlier", data={"version": "2"})
    assert (back.status_code, back.url.path) == (200, f"/cases/{edited.id}")
    assert 'id="sketch"' in back.text
    assert edited.get()["version"] == 3
    assert edited.move("redo").status_code == 409
    assert edited.get()["version"] == 3


def test_the_api_says_so_and_undoes(own: TestClient, edited: Stored) -> None:
    damage(own, edited.id, "max")
    for answer in (own.get(edited.path), edited.preview(None), edited.edit(EMPTY, version=2)):
        assert answer.status_code == 409
        assert "can't be read" in answer.json()["error"]
    undone = edited.move("undo", version=2)
    assert (undone.status_code, undone.json()["version"]) == (200, 3)


def test_without_an_earlier_state_nothing_is_offered_but_the_file(own: TestClient) -> None:
    stored = Stored(own, humerus())
    number = damage(own, stored.id, "max")
    page = own.get(f"/cases/{stored.id}").text
    assert "no earlier state" in page
    assert "<form" not in page.split("<main")[1]
    assert f"/cases/{stored.id}/stored?revision={number}" in page


def test_other_cases_the_list_and_the_export_stay_usable(own: TestClient, edited: Stored) -> None:
    whole = Stored(own, humerus(title="Whole one"))
    damage(own, edited.id, "max")
    assert own.get("/").status_code == own.get(f"/cases/{whole.id}").status_code == 200
    assert {one["title"] for one in own.get("/api/v1/cases").json()["cases"]} == {"Damaged one", "Whole one"}
    packed = own.get("/library.zip")
    assert packed.status_code == 200
    with zipfile.ZipFile(io.BytesIO(packed.content)) as archive:
        index = json.loads(archive.read("index.json"))
        (lost,) = index["unreadable"]
        assert lost["title"] == "Damaged one"
        assert "fishplate-case/2" in lost["reason"]
        assert archive.read(lost["file"]).decode() == LATER
        assert [one["title"] for one in index["cases"]] == ["Whole one"]
    report = own.post("/import", files={"file": ("library.zip", packed.content)})
    assert lost["file"] in report.text, "what can't be read is named when it comes back, too"


def test_an_unreadable_what_if_is_named_and_the_case_goes_on(own: TestClient, edited: Stored) -> None:
    number = damage(own, edited.id, "min")
    assert own.get(f"/cases/{edited.id}").status_code == 200
    listed = own.get(f"{edited.path}/whatifs").json()
    assert [(one["name"], one["fits"], one["swap"]) for one in listed] == [("As it was", False, None)]
    part = own.get(f"/cases/{edited.id}/whatifs").text
    assert "can’t be read" in part
    assert f"/cases/{edited.id}/stored?revision={number}" in part
    for address in ("compare", "conference", "plan"):
        assert own.get(f"/cases/{edited.id}/{address}").status_code == 200
    page = own.get(f"/cases/{edited.id}/compare?with=now,r{number}")
    assert page.status_code == 409
    assert "An earlier state of this case can’t be read" in page.text
    assert f'href="/cases/{edited.id}"' in page.text
    assert own.delete(f"{edited.path}/whatifs/{listed[0]['id']}").status_code == 204


def test_a_reader_is_told_and_offered_nothing_that_changes_the_case(own: TestClient, edited: Stored) -> None:
    path = own.post(f"{edited.path}/reader-link").json()["path"]
    assert own.get(path).status_code == 200
    damage(own, edited.id, "max")
    page = own.get(path)
    assert page.status_code == 409
    assert "can&#39;t be read" in page.text
    assert "<form" not in page.text.split("<main")[1]
