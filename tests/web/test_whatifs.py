"""What-ifs over the API: kept, renamed, swapped in, removed; the case's version stays until one is swapped in."""

from typing import Any

import pytest

from tests.client import Stored


def keep(stored: Stored, **asked: Any) -> Any:
    return stored.client.post(f"{stored.path}/whatifs", json=asked)


def test_one_request_keeps_the_present_state_and_the_version_stays(stored: Stored) -> None:
    first = keep(stored)
    assert first.status_code == 201
    assert first.json()["name"] == "What-if 1"
    assert stored.get()["version"] == 1
    assert keep(stored).json()["name"] == "What-if 2"
    assert [one["name"] for one in stored.client.get(f"{stored.path}/whatifs").json()] == ["What-if 1", "What-if 2"]


def test_swapping_in_is_an_edit_that_brings_the_construct_back_and_can_be_undone(stored: Stored) -> None:
    before = stored.get()["case"]
    kept = keep(stored, name="All filled").json()
    stored.edit({"op": "set_role", "target": 0, "hole": 0, "role": "empty"})
    changed = stored.get()["case"]
    assert changed != before
    answer = stored.edit(kept["swap"])
    assert answer.status_code == 200
    assert answer.json()["status"].startswith("Swap in All filled")
    assert stored.get()["case"] == before
    stored.move("undo")
    assert stored.get()["case"] == changed


def test_a_what_if_never_changes(stored: Stored) -> None:
    kept = keep(stored).json()
    stored.edit({"op": "move_plate", "target": 0, "centre_mm": 165})
    (found,) = stored.client.get(f"{stored.path}/whatifs").json()
    assert found == kept


def test_a_what_if_of_an_earlier_revision(stored: Stored) -> None:
    stored.edit({"op": "set_role", "target": 0, "hole": 0, "role": "empty"})
    first = stored.client.get(f"{stored.path}/revisions").json()[0]
    kept = keep(stored, revision=first["id"], name="At first").json()
    assert kept["swap"]["edits"][0]["value"]["holes"][0]["role"] == "neutral"


def test_an_edit_is_kept_as_a_what_if_and_not_made(stored: Stored) -> None:
    """The case, its version, and what undo and redo lead to stay: as with any what-if."""
    stored.edit({"op": "move_plate", "target": 0, "centre_mm": 165})
    stored.move("undo")
    before = stored.get()
    tried = {"op": "set_role", "target": 0, "hole": 0, "role": "empty"}
    kept = keep(stored, edit=tried, version=before["version"])
    assert kept.status_code == 201
    assert kept.json()["swap"]["edits"][0]["value"]["holes"][0]["role"] == "empty"
    assert stored.get() == before
    redone = stored.move("redo").json()
    assert redone["version"] == before["version"] + 1
    assert stored.get()["case"]["constructs"][0]["plate"]["centre_mm"] == 165
    stored.edit(kept.json()["swap"])
    assert stored.get()["case"]["constructs"][0]["holes"][0]["role"] == "empty"
    assert stored.get()["case"]["constructs"][0]["plate"] == before["case"]["constructs"][0]["plate"]


def test_an_edit_that_cannot_be_made_is_kept_as_nothing(stored: Stored) -> None:
    away = {"op": "set_role", "target": 0, "hole": 99, "role": "empty"}
    assert keep(stored, edit=away).status_code == 422
    fine = {"op": "set_role", "target": 0, "hole": 0, "role": "empty"}
    assert keep(stored, edit=fine, version=7).status_code == 412
    assert keep(stored, edit=fine, revision=1).status_code == 422
    assert stored.client.get(f"{stored.path}/whatifs").json() == []
    assert len(stored.client.get(f"{stored.path}/revisions").json()) == 1


def test_a_tried_what_if_sent_again_is_kept_once(stored: Stored) -> None:
    asked = {"edit": {"op": "set_role", "target": 0, "hole": 0, "role": "empty"}, "version": 1}
    key = {"Idempotency-Key": '"keep-this-once"'}
    first = stored.client.post(f"{stored.path}/whatifs", json=asked, headers=key)
    stored.edit({"op": "move_plate", "target": 0, "centre_mm": 165})
    again = stored.client.post(f"{stored.path}/whatifs", json=asked, headers=key)
    assert (first.status_code, again.status_code) == (201, 201)
    assert again.json() == first.json()


def test_renaming_and_removing(stored: Stored) -> None:
    kept = keep(stored).json()
    path = f"{stored.path}/whatifs/{kept['id']}"
    assert stored.client.patch(path, json={"name": "  Longer plate "}).json()["name"] == "Longer plate"
    assert stored.client.delete(path).status_code == 204
    assert stored.client.get(f"{stored.path}/whatifs").json() == []
    assert stored.client.delete(path).status_code == 404
    assert len(stored.client.get(f"{stored.path}/revisions").json()) == 1


@pytest.mark.parametrize(
    ("asked", "status"),
    [
        ({"name": ""}, 422), ({"name": "x" * 61}, 422), ({"name": "<b>"}, 422), ({"name": "a\u0000b"}, 422),
        ({"name": "Taken"}, 409), ({"construct": 1}, 422), ({"construct": -1}, 422), ({"revision": 999_999}, 404),
        ({"revision": 2**31}, 422), ({"more": 1}, 422),
    ],
)  # fmt: skip
def test_what_cannot_be_kept_is_refused_in_the_one_error_shape(
    stored: Stored, asked: dict[str, Any], status: int
) -> None:
    keep(stored, name="Taken")
    answer = keep(stored, **asked)
    assert answer.status_code == status, answer.text
    assert set(answer.json()) == {"status", "error", "faults"}


def test_a_taken_name_is_refused_for_another_and_fine_for_itself(stored: Stored) -> None:
    first, second = keep(stored, name="A").json(), keep(stored, name="B").json()
    path = f"{stored.path}/whatifs"
    assert stored.client.patch(f"{path}/{second['id']}", json={"name": "A"}).status_code == 409
    assert stored.client.patch(f"{path}/{first['id']}", json={"name": "A"}).status_code == 200


def test_the_sketch_pages_part_lists_them_with_everything_to_do(stored: Stored) -> None:
    kept = keep(stored, name="Bosun’s way").json()
    part = stored.client.get(f"/cases/{stored.id}/whatifs").text
    assert 'value="Bosun’s way"' in part
    for wanted in (f'data-whatif-name="{kept["id"]}"', f'data-whatif-remove="{kept["id"]}"', "replace_construct",
                   f"with=now,w{kept['id']}"):  # fmt: skip
        assert wanted in part


def test_where_the_bone_is_another_by_now_it_cannot_be_swapped_in(stored: Stored) -> None:
    kept = keep(stored).json()
    construct = stored.get()["case"]["constructs"][0]
    blank = {**construct, "bone": {"name": "femur"}, "fracture": {"lines": [{"position_mm": 220}]}}
    blank["plate"] = {**construct["plate"], "series": "large-broad-4.5", "centre_mm": 220}
    answer = stored.edit({"op": "replace_construct", "target": 0, "value": blank})
    assert answer.status_code == 200, answer.text
    (found,) = stored.client.get(f"{stored.path}/whatifs").json()
    assert found["fits"] is False
    assert "replace_construct" not in stored.client.get(f"/cases/{stored.id}/whatifs").text
    assert stored.client.get(f"{stored.path}/picture?variant=w{kept['id']}").status_code == 404
