"""Cases whose stored title an older version took: every page of theirs opens, and an edit mends it for good."""

import json
import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from fastapi.testclient import TestClient
from sqlalchemy import update

from app.case.titles import TITLE_LENGTH
from app.store import Store
from app.store.tables import revision
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


def test_the_page_lets_nobody_type_more_than_a_title_may_have(own: TestClient) -> None:
    stored = Stored(own, humerus(title="W" * TITLE_LENGTH))
    field = re.search(r'<input[^>]*id="c-title"[^>]*>', own.get(f"/cases/{stored.id}").text)
    assert field is not None
    assert f'maxlength="{TITLE_LENGTH}"' in field[0]
    assert stored.edit({"op": "set_title", "title": "W" * (TITLE_LENGTH + 1)}).status_code == 422
