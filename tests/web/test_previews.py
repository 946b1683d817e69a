"""One preview service: what one way of asking has worked out, no other works out again, nor does the edit when made.

The HTTP side of "the same answer" is RFC 9110, section 9.2.1: a preview is safe, so asking twice may cost nothing more.
"""

import json
from typing import Any

import pytest
from fastapi.testclient import TestClient

from app.case import Case, Edit
from app.case.edits import MoveFracture
from app.web import state as state_module
from tests.client import Stored
from tests.web.test_live import HERE, asked

MOVE = {"op": "move_fracture", "target": 0, "line": 0, "position_mm": 171.5}
HEAVY = [{"construct": 0, "stage": "full"}]


@pytest.fixture
def assessed(monkeypatch: pytest.MonkeyPatch) -> list[float]:
    """Where the first fracture line lay in each case that was judged, in their order."""
    found: list[float] = []
    real = state_module.assess_stored

    def noted(case: Case, *given: Any, **more: Any) -> Any:
        found.append(case.constructs[0].fracture.lines[0].position_mm)
        return real(case, *given, **more)

    monkeypatch.setattr(state_module, "assess_stored", noted)
    return found


@pytest.fixture
def written(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """How often a moved fracture is written as JSON, whether as text or as a document."""
    found: list[str] = []
    for name in ("model_dump_json", "model_dump"):
        real = getattr(MoveFracture, name)

        def noted(edit: Edit, *given: Any, _real: Any = real, _name: str = name, **more: Any) -> Any:
            found.append(_name)
            return _real(edit, *given, **more)

        monkeypatch.setattr(MoveFracture, name, noted)
    return found


def test_an_edit_that_was_previewed_is_not_judged_again_when_it_is_made(stored: Stored, assessed: list[float]) -> None:
    begin = stored.get()["case"]["constructs"][0]["fracture"]["lines"][0]["position_mm"]
    shown = stored.preview(MOVE).json()
    assert sorted(assessed) == sorted([begin, 171.5])
    made = stored.edit(MOVE).json()
    assert stored.preview(None).json()["drawing"] == made["drawing"] == shown["drawing"]
    assert sorted(assessed) == sorted([begin, 171.5]), "neither the edit nor the page after it judges anything anew"


def test_remedies_come_with_the_edit_and_not_while_a_hand_moves(stored: Stored) -> None:
    over_the_end = {"op": "move_fracture", "target": 0, "line": 0, "position_mm": 200.0}
    tried = stored.preview(over_the_end).json()["panels"]["warnings"]
    made = stored.edit(over_the_end).json()["panels"]["warnings"]
    assert 'class="remedy"' not in tried
    assert 'class="remedy-later"' in tried
    assert 'class="remedy"' in made
    assert "remedy-later" not in made


def test_without_a_preview_it_is_judged_once(stored: Stored, assessed: list[float]) -> None:
    stored.edit(MOVE)
    assert assessed.count(171.5) == 1


def test_under_other_loads_it_is_judged_under_those(stored: Stored, assessed: list[float]) -> None:
    light, heavy = (stored.preview(MOVE, loading=loading).json()["panels"]["mechanics"] for loading in ([], HEAVY))
    assert light != heavy
    assert assessed.count(171.5) == 2
    stored.edit(MOVE)
    assert assessed.count(171.5) == 2


def test_on_another_version_it_is_judged_anew(stored: Stored, assessed: list[float]) -> None:
    stored.preview(MOVE)
    stored.edit({"op": "set_role", "target": 0, "hole": 1, "role": "neutral"})
    stored.preview(MOVE)
    assert assessed.count(171.5) == 2


def test_request_line_and_picture_ask_for_the_same_once(
    client: TestClient, stored: Stored, assessed: list[float]
) -> None:
    with client.websocket_connect(f"{HERE}{stored.path}/live") as line:
        line.send_text(asked(MOVE))
        told = line.receive_json()
    assert stored.preview(MOVE, view=[60, 260], seq=3).json()["drawing"] == told["drawing"]
    picture = client.get(f"{stored.path}/picture", params={"version": 1, "edit": json.dumps(MOVE)}).json()
    assert picture["tried"]
    assert assessed.count(171.5) == 1


def test_a_picture_asked_for_too_early_is_not_given_out_once_its_version_is_there(
    client: TestClient, stored: Stored
) -> None:
    """RFC 9111, section 4: what is kept may be used only where it is what the origin would answer."""

    def picture() -> Any:
        return client.get(f"{stored.path}/picture", params={"version": 2, "edit": json.dumps(MOVE)}).json()

    assert (picture()["version"], picture()["tried"]) == (1, False)
    stored.edit({"op": "set_role", "target": 0, "hole": 1, "role": "neutral"})
    assert (picture()["version"], picture()["tried"]) == (2, True)


def test_an_edit_is_written_as_json_once_for_each_request(stored: Stored, written: list[str]) -> None:
    stored.preview(MOVE)
    assert written == ["model_dump_json"]
    stored.edit(MOVE)
    assert written == ["model_dump_json"] * 2


def test_an_edit_that_can_not_be_made_is_refused_in_the_same_words_before_and_after(stored: Stored) -> None:
    wrong = {**MOVE, "position_mm": 4000}
    preview, again, edit = stored.preview(wrong), stored.preview(wrong), stored.edit(wrong)
    assert preview.status_code == again.status_code == edit.status_code == 422
    assert preview.json() == again.json() == edit.json()


def test_what_goes_too_far_goes_as_far_as_it_can_by_request_by_line_and_when_made(stored: Stored) -> None:
    far = {"edit": {**MOVE, "position_mm": 10_000.0}, "reach": {"field": "position_mm", "start": 160.0}}
    assert stored.client.post(f"{stored.path}/preview", json={"edit": far["edit"]}).status_code == 422
    shown = stored.client.post(f"{stored.path}/preview", json=far).json()
    assert shown["reached"] > 200
    assert "as far as it goes" in shown["status"]
    with stored.client.websocket_connect(f"{HERE}{stored.path}/live") as line:
        line.send_text(json.dumps(far))
        assert json.loads(line.receive_text())["reached"] == shown["reached"]
    kept = stored.client.post(f"{stored.path}/edits", json=far, headers={"If-Match": '"1"'}).json()
    assert (kept["reached"], kept["version"]) == (shown["reached"], 2)
    assert kept["drawing"] == shown["drawing"]
    case = stored.client.get(stored.path).json()["case"]
    assert case["constructs"][0]["fracture"]["lines"][0]["position_mm"] == shown["reached"]
    within = {**far, "edit": MOVE}
    assert stored.client.post(f"{stored.path}/preview", json=within).json()["reached"] is None


@pytest.mark.parametrize(
    "reach", [{"field": "op", "start": 0}, {"field": "hole", "start": 1}, {"field": "../x", "start": 1}]
)
def test_a_reach_of_no_figure_is_refused(stored: Stored, reach: dict[str, Any]) -> None:
    far = {"edit": {**MOVE, "position_mm": 10_000.0}, "reach": reach}
    assert stored.client.post(f"{stored.path}/preview", json=far).status_code == 422
