"""Working ahead: a guess is made only of a drag that goes on, is what is asked then, and is nobody else's business."""

import json
import time
from typing import Any

import pytest
from fastapi.testclient import TestClient
from hypothesis import given, reject
from hypothesis import strategies as st

from app.case import InvalidCase, parse_edit
from app.store import Preview, Snapshot
from app.web.panels import preview
from app.web.panels.redraw import Redraw
from app.web.panels.speculation import Questions, continued
from app.web.state import ServerState
from tests.client import Stored
from tests.web.test_live import HERE, asked


def moved(position_mm: float, **more: Any) -> dict[str, Any]:
    return {"op": "move_fracture", "target": 0, "line": 0, "position_mm": position_mm, **more}


@pytest.mark.parametrize(
    ("before", "last", "guess"),
    [
        (moved(150.0), moved(151.0), moved(152.0)),
        (moved(150.0), moved(147.5), moved(145.0)),
        (
            {"op": "set_tilt", "target": 0, "hole": 2, "tilt_deg": 3.0},
            {"op": "set_tilt", "target": 0, "hole": 2, "tilt_deg": 5.0},
            {"op": "set_tilt", "target": 0, "hole": 2, "tilt_deg": 7.0},
        ),
        (moved(150.0), moved(150.0), None),
        (moved(150.0), moved(151.0, line=1), None),
        (moved(150.0), {"op": "set_gap", "target": 0, "gap_mm": 1.0}, None),
        (
            {"op": "set_role", "target": 0, "hole": 2, "role": "lag"},
            {"op": "set_role", "target": 0, "hole": 2, "role": "neutral"},
            None,
        ),
    ],
)
def test_a_figure_goes_on_as_it_did(before: Any, last: Any, guess: Any) -> None:
    found = continued(*(parse_edit(one).model_dump(mode="json") for one in (before, last)))
    assert (found and found.model_dump()) == (guess and parse_edit(guess).model_dump())


SLIDERS: dict[str, tuple[dict[str, Any], str]] = {
    "move_fracture": ({"target": 0, "line": 1}, "position_mm"),
    "set_obliquity": ({"target": 2, "line": 0}, "obliquity_deg"),
    "set_zone": ({"target": 0, "line": 0}, "zone_mm"),
    "move_plate": ({"target": 1}, "centre_mm"),
    "set_tilt": ({"target": 0, "hole": 3}, "tilt_deg"),
}


@given(op=st.sampled_from(sorted(SLIDERS)), was=st.integers(-20, 80), by=st.integers(-30, 30).filter(bool))
def test_of_every_slider_the_guess_is_a_proper_edit_or_none(op: str, was: int, by: int) -> None:
    same, name = SLIDERS[op]

    def edit(value: float) -> Any:
        return parse_edit({"op": op, **same, name: value})

    try:
        before, last = edit(was), edit(was + by)
    except InvalidCase:
        reject()
    guess = continued(before.model_dump(mode="json"), last.model_dump(mode="json"))
    try:
        proper = edit(was + 2 * by)
    except InvalidCase:
        proper = None
    assert guess == proper


def test_guesses_keep_out_of_the_way() -> None:
    questions = Questions()
    with questions.idle() as free:
        assert free
        with questions.idle() as second:
            assert not second, "one at a time"
    with questions.answering():
        with questions.idle() as free:
            assert not free
        with questions.answering():
            pass
        with questions.idle() as free:
            assert not free, "the first still is"
    with questions.idle() as free:
        assert free


def rested(questions: Questions) -> bool:
    with questions.idle() as free:
        return free


def test_a_guess_is_made_once_told_to_nobody_and_is_what_a_request_is_answered(
    client: TestClient, stored: Stored, monkeypatch: pytest.MonkeyPatch
) -> None:
    made: list[float] = []
    told: list[float | None] = []
    redraw, tell = preview._redraw, client.app.state.server.changes.preview  # type: ignore[attr-defined]

    def noted(state: ServerState, snapshot: Snapshot, question: preview.Question) -> Redraw:
        made.append(question.edit.edit.position_mm)  # type: ignore[union-attr]
        return redraw(state, snapshot, question)

    def heard(case_id: str, word: Preview) -> None:
        told.append(word.edit and word.edit["position_mm"])
        tell(case_id, word)

    monkeypatch.setattr(preview, "_redraw", noted)
    monkeypatch.setattr(client.app.state.server.changes, "preview", heard)  # type: ignore[attr-defined]
    questions = client.app.state.server.questions  # type: ignore[attr-defined]
    places = [160.0, 161.0, 162.0, 163.0, 170.0, 171.0]
    answers = []
    with client.websocket_connect(f"{HERE}{stored.path}/live") as line:
        for seq, place in enumerate(places):
            line.send_text(asked(moved(place), seq=seq))
            answers.append(json.loads(line.receive_text()))
            wanted = 2 * place - places[seq - 1] if seq else None
            deadline = time.monotonic() + 30
            while wanted is not None and wanted not in made and time.monotonic() < deadline:
                time.sleep(0.005)
            while wanted is not None and not rested(questions) and time.monotonic() < deadline:
                time.sleep(0.005)  # begun is not done: until it is, there is no next guess
    assert told == [*places, None], "and at the end of the line, that nothing is tried any more"
    assert made == [160.0, 161.0, 162.0, 163.0, 164.0, 170.0, 177.0, 171.0, 172.0]
    for seq, (place, answer) in enumerate(zip(places, answers, strict=True)):
        whole = stored.preview(moved(place), view=[60, 260], seq=seq).json()
        for name in ("seq", "version", "panels", "status"):
            assert answer[name] == whole[name]
        lines = whole["drawing"].split("\n")
        assert all(lines[int(number)] == text for number, text in (answer["lines"] or {}).items())
