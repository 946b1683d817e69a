"""The JSON API as a program meets it."""

from typing import Any

import pytest
from fastapi.testclient import TestClient

from tests.cases import humerus
from tests.client import Stored
from tests.surface.walk import offers

EMPTY_HOLE_1 = {"op": "set_role", "target": 0, "hole": 0, "role": "empty"}


def test_a_case_is_kept_and_found_again(client: TestClient) -> None:
    answer = client.post("/api/v1/cases", json=humerus())
    assert answer.status_code == 201
    assert answer.headers["ETag"] == '"1"'
    found = client.get(answer.headers["Location"]).json()
    assert (found["id"], found["version"], found["undo"], found["redo"]) == (answer.json()["id"], 1, None, None)
    assert found["case"]["title"] == "Bosun’s arm"
    assert found["id"] in [one["id"] for one in client.get("/api/v1/cases").json()["cases"]]


def test_who_has_the_version_is_sent_no_body(client: TestClient, stored: Stored) -> None:
    tag = client.get(stored.path).headers["ETag"]
    for held in (tag, f"W/{tag}", f'"99", {tag}', "*"):
        again = client.get(stored.path, headers={"If-None-Match": held})
        assert (again.status_code, again.content, again.headers["ETag"]) == (304, b"", tag)
    assert client.get(stored.path, headers={"If-None-Match": '"99"'}).status_code == 200


def test_a_preview_shows_and_keeps_nothing(stored: Stored) -> None:
    before = stored.get()
    answer = stored.preview(EMPTY_HOLE_1, seq=7, view=[60, 260])
    shown = answer.json()
    assert (answer.status_code, shown["seq"], shown["version"], shown["construct"]) == (200, 7, 1, 0)
    assert 'data-view="60,260"' in shown["drawing"]
    assert shown["drawing"].lstrip().startswith("<svg")
    document = humerus()
    document["constructs"][0]["holes"][0]["role"] = "empty"
    expected = stored.client.post("/api/v1/assess", json=document).json()["constructs"][0]["fragments"][0]
    assert f'id="figure-screws-proximal" data-figure="{expected["screws"]}"' in shown["panels"]["summary"]
    assert f'id="figure-spread-proximal" data-figure="{expected["spread_mm"]:.1f}"' in shown["panels"]["summary"]
    assert stored.get() == before


def test_a_preview_without_an_edit_is_the_stored_case_with_every_panel(stored: Stored) -> None:
    panels = stored.preview(None).json()["panels"]
    assert all(panels[name] for name in ("summary", "warnings", "screws", "setup", "head"))


def test_an_edit_is_kept_and_raises_the_version(stored: Stored) -> None:
    answer = stored.edit(EMPTY_HOLE_1)
    assert (answer.status_code, answer.headers["ETag"], answer.json()["version"]) == (200, '"2"', 2)
    assert answer.json()["status"].startswith("Hole 1: empty; ")
    assert stored.get()["case"]["constructs"][0]["holes"][0]["role"] == "empty"
    assert stored.get()["undo"] == "Hole 1: empty"


def test_leaving_a_screw_out_shows_what_it_cost(stored: Stored) -> None:
    before = stored.preview(None).json()["panels"]["summary"]
    after = stored.edit(EMPTY_HOLE_1).json()["panels"]["summary"]
    assert '<del class="was">' not in before
    assert '<del class="was">' in after
    moved = stored.edit({"op": "set_gap", "target": 0, "gap_mm": 1}).json()["panels"]["summary"]
    assert '<del class="was">' not in moved


def test_undo_and_redo_walk_the_revisions_and_raise_the_version(stored: Stored) -> None:
    original = stored.get()["case"]
    edited = stored.edit(EMPTY_HOLE_1).json()
    undone = stored.move("undo")
    assert (undone.status_code, undone.headers["ETag"]) == (200, '"3"')
    assert undone.json()["status"].startswith("Undone: Hole 1: empty")
    assert stored.get()["case"] == original
    redone = stored.move("redo")
    assert redone.json()["version"] == 4
    assert redone.json()["drawing"] == edited["drawing"]


@pytest.mark.parametrize("way", ["undo", "redo"])
def test_nothing_to_undo_or_redo_is_a_conflict(stored: Stored, way: str) -> None:
    answer = stored.move(way)
    assert answer.status_code == 409
    assert answer.json()["error"].startswith(f"Nothing to {way}")


@pytest.mark.parametrize("way", ["edits", "undo", "redo"])
def test_writes_must_say_which_version_they_were_made_on(client: TestClient, stored: Stored, way: str) -> None:
    body = {"edit": EMPTY_HOLE_1} if way == "edits" else {}
    answer = client.post(f"{stored.path}/{way}", json=body)
    assert answer.status_code == 428
    assert "If-Match" in answer.json()["error"]
    assert stored.get()["version"] == 1


@pytest.mark.parametrize("tag", ['"99"', 'W/"1"', "1", "nonsense", '"-1"'])
def test_a_stale_write_is_refused_and_told_the_current_version(client: TestClient, stored: Stored, tag: str) -> None:
    for way, body in {"edits": {"edit": EMPTY_HOLE_1}, "undo": {}, "redo": {}}.items():
        answer = client.post(f"{stored.path}/{way}", json=body, headers={"If-Match": tag})
        assert (answer.status_code, answer.headers["ETag"]) == (412, '"1"')
        assert "version 1 is current" in answer.json()["error"]
    assert stored.get()["version"] == 1


def test_a_second_writer_loses_nothing_by_trying_again(stored: Stored) -> None:
    stored.edit(EMPTY_HOLE_1, version=1)
    other = {"op": "set_role", "target": 0, "hole": 8, "role": "empty"}
    refused = stored.edit(other, version=1)
    assert refused.status_code == 412
    again = stored.edit(other, version=int(refused.headers["ETag"].strip('"')))
    assert again.status_code == 200
    roles = [hole["role"] for hole in stored.get()["case"]["constructs"][0]["holes"]]
    assert (roles[0], roles[8]) == ("empty", "empty")


def test_a_bone_added_is_the_one_shown(stored: Stored) -> None:
    value = humerus()["constructs"][0]
    answer = stored.edit({"op": "add_construct", "value": value}).json()
    assert answer["construct"] == 1
    gone = stored.edit({"op": "remove_construct", "target": 1}, construct=1).json()
    assert gone["construct"] == 0


def test_layouts_are_offered_as_edits_that_can_be_made(client: TestClient, stored: Stored) -> None:
    html = client.get(f"{stored.path}/layouts").json()["html"]
    assert "&#34;op&#34;:&#34;together&#34;" in html


def test_a_place_for_a_lag_screw_is_looked_for_when_somebody_asks(client: TestClient, stored: Stored) -> None:
    panel = stored.preview(None).json()["panels"]["screws"]
    assert 'data-ask="more-lags?construct=0"' in panel
    assert "add_lag" not in panel
    found = client.get(f"{stored.path}/more-lags").json()
    assert found["version"] == 1
    [button] = [edit for edit in offers(found["html"]) if edit["op"] == "together"]
    assert button["label"] == "Add an independent lag screw"
    offered = [edit for edit in button["edits"] if edit["op"] == "add_lag"]
    assert len(offered) == 1
    assert f"entering at {offered[0]['value']['position_mm']:.0f} mm" in found["status"]
    assert stored.edit(offered[0]).status_code == 200


def test_where_there_is_no_place_for_a_lag_screw_the_answer_says_why(client: TestClient, stored: Stored) -> None:
    assert stored.edit({"op": "set_obliquity", "line": 0, "obliquity_deg": 0}).status_code == 200
    assert stored.edit({"op": "set_zone", "line": 0, "zone_mm": 30}).status_code == 200
    why = client.get(f"{stored.path}/more-lags").json()["status"]
    assert why.startswith("No place for an independent lag screw: across a zone")
    panel = stored.preview(None).json()["panels"]["screws"]
    assert why in panel
    assert "data-ask" not in panel


def test_assess_answers_like_the_command_line(client: TestClient) -> None:
    from app.assess import assess, load_knowledge
    from app.case.faults import case_from
    from app.document import as_document

    answer = client.post("/api/v1/assess", json=humerus())
    assert answer.status_code == 200
    expected: Any = as_document(assess(case_from(humerus()), load_knowledge()))
    assert answer.json()["format"] == "fishplate-assessment/2"
    assert answer.json()["constructs"][0]["fragments"] == expected["constructs"][0]["fragments"]
    assert answer.json()["constructs"][0]["warnings"] == expected["constructs"][0]["warnings"]


@pytest.mark.parametrize("which", ["case", "assessment"])
def test_schemas_are_served(client: TestClient, which: str) -> None:
    import jsonschema

    schema = client.get(f"/api/v1/schema/{which}").json()
    document = humerus() if which == "case" else client.post("/api/v1/assess", json=humerus()).json()
    jsonschema.validate(document, schema)


def test_the_description_names_every_answer_of_a_write(client: TestClient) -> None:
    paths = client.get("/api/v1/openapi.json").json()["paths"]
    told = set(paths["/api/v1/cases/{case_id}/edits"]["post"]["responses"])
    assert told >= {"200", "400", "403", "404", "412", "413", "415", "422", "428", "503"}


def test_the_list_is_paged_by_its_own_addresses(client: TestClient) -> None:
    """RFC 8288: the next page is the target of a link of relation ``next``."""
    made = [client.post("/api/v1/cases", json=humerus(title=f"Paged & sought {n}")).json()["id"] for n in range(5)]
    address: str | None = "/api/v1/cases?q=paged%20%26%20sought&limit=2&sort=title"
    found: list[str] = []
    while address is not None:
        answer = client.get(address)
        page = answer.json()
        assert page["total"] == 5
        found += [one["id"] for one in page["cases"]]
        address = page["next"]
        assert answer.links.get("next", {}).get("url") == address
    assert found == made
    first = client.get("/api/v1/cases?q=paged%20%26%20sought&limit=1").json()["cases"][0]
    assert first["bones"] == [{"bone": "humerus", "side": None, "code": "12A2", "principle": "compression"}]


@pytest.mark.parametrize("asked", ["limit=0", "limit=501", "sort=size", "after=a%20b", "after=abc", "q=" + "x" * 201])
def test_what_no_list_can_be_asked_is_refused_in_words(client: TestClient, asked: str) -> None:
    answer = client.get(f"/api/v1/cases?{asked}")
    assert answer.status_code == 422
    assert answer.json()["error"]
