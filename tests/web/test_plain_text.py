"""Cases whose stored words an older version took: every page of theirs opens, and an edit mends them for good."""

import json
import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from fastapi.testclient import TestClient
from sqlalchemy import update

from app.case.plain_text import TITLE_LENGTH
from app.store import Store
from app.store.tables import revision, whatif
from app.web import Settings, create_app
from tests.cases import humerus
from tests.client import Stored
from tests.store.damaged import damage


@pytest.fixture
def own(tmp_path: Path) -> Iterator[TestClient]:
    with TestClient(create_app(Settings(data_dir=tmp_path)), base_url="http://127.0.0.1") as client:
        yield client


@pytest.mark.parametrize(("title", "shown"), [("\u200b", "Untitled case"), ("\u202eArm", "Arm")])
def test_pages_open_and_the_title_can_be_mended_by_hand(
    own: TestClient, tmp_path: Path, title: str, shown: str
) -> None:
    stored = Stored(own, humerus())
    store = Store(f"sqlite:///{tmp_path / 'fishplate.db'}")
    with store.engine.begin() as connection:
        connection.execute(update(revision).values(title=title))
    at = store.get(stored.id).revision_id
    damage(store, at, json.dumps(humerus(title=title)))
    store.close()
    pages = ["", "/compare", "/plan", "/conference", "/export", "/plan.pdf", "/drawing.svg", "/tools"]
    again = create_app(Settings(data_dir=tmp_path))
    with TestClient(again, base_url="http://127.0.0.1") as client:
        for page in pages:
            answer = client.get(f"/cases/{stored.id}{page}")
            assert answer.status_code == 200, page
            if "html" in answer.headers["content-type"]:
                assert shown in answer.text
                assert title not in answer.text
        assert client.get("/library.zip").status_code == 200
        assert Stored(client, humerus(title="Another")).edit({"op": "set_title", "title": title}).status_code == 422
        on_it = client.post(
            f"/api/v1/cases/{stored.id}/edits",
            json={"edit": {"op": "set_principle", "principle": "bridging"}},
            headers={"If-Match": '"1"'},
        )
        assert on_it.status_code == 200
        assert client.get(f"/api/v1/cases/{stored.id}").json()["case"]["title"] == shown


def test_notes_and_names_that_an_older_version_kept_open_everywhere(own: TestClient, tmp_path: Path) -> None:
    stored = Stored(own, humerus(note="NOTE"))
    names = ["Long", "\u202eLong", "\u2066"]
    for name in ("a", "b", "c"):
        assert own.post(f"{stored.path}/whatifs", json={"name": name}).status_code == 201
    store = Store(f"sqlite:///{tmp_path / 'fishplate.db'}")
    with store.engine.begin() as connection:
        for place, name in enumerate(names, 1):
            connection.execute(update(whatif).where(whatif.c.id == place).values(name=name))
    at = store.get(stored.id).revision_id
    damage(store, at, json.dumps(humerus(note="Seen\u202e from the\u200f back.")))
    store.close()
    pages = ["", "/compare", "/plan", "/conference", "/export", "/plan.pdf", "/drawing.svg", "/tools"]
    with TestClient(create_app(Settings(data_dir=tmp_path)), base_url="http://127.0.0.1") as client:
        for page in pages:
            assert client.get(f"/cases/{stored.id}{page}").status_code == 200, page
        assert client.get("/library.zip").status_code == 200
        told = client.get(stored.path)
        assert told.json()["case"]["note"] == "Seen from the back."
        kept = client.get(f"{stored.path}/whatifs").json()
        assert [one["name"] for one in kept] == ["Long", "Long 2", "What-if"]
        file = client.get(f"/cases/{stored.id}/export").text
        assert [one["name"] for one in json.loads(file)["whatifs"]] == ["Long", "Long 2", "What-if"]
        there = {"If-Match": '"1"'}
        moved = client.post(f"{stored.path}/edits", json={"edit": kept[1]["swap"]}, headers=there)
        assert moved.status_code == 200, moved.text
        asked = f"{stored.path}/whatifs/{kept[1]['id']}"
        assert client.patch(asked, json={"name": "Lo\u202eng"}).status_code == 422
        assert client.patch(asked, json={"name": "Longer"}).json()["name"] == "Longer"
        assert client.delete(f"{stored.path}/whatifs/{kept[2]['id']}").status_code == 204


def test_a_step_is_named_in_plain_text_whoever_names_it(own: TestClient) -> None:
    stored = Stored(own, humerus())
    move = {"op": "move_plate", "target": 0, "centre_mm": 165}
    assert stored.edit({"op": "together", "label": "Plate \u202efirst", "edits": [move]}).status_code == 200
    assert stored.get()["undo"] == "Plate first"


def test_the_page_lets_nobody_type_more_than_a_title_may_have(own: TestClient) -> None:
    stored = Stored(own, humerus(title="W" * TITLE_LENGTH))
    field = re.search(r'<input[^>]*id="c-title"[^>]*>', own.get(f"/cases/{stored.id}").text)
    assert field is not None
    assert f'maxlength="{TITLE_LENGTH}"' in field[0]
    assert stored.edit({"op": "set_title", "title": "W" * (TITLE_LENGTH + 1)}).status_code == 422
