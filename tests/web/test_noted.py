"""Notes put away, over HTTP: the panel, the sentence, the conference, the plan, undo. The demands are our own."""

import json
import re
from typing import Any

import pytest

from tests.cases import humerus
from tests.client import Stored

RISK = "structures-at-risk"
TWICE = "mixed-fragment"  # told once of each fragment


def noted(stored: Stored, rule: str = RISK, target: int | None = 0) -> Any:
    answer = stored.edit({"op": "acknowledge", "rule": rule, "target": target})
    assert answer.status_code == 200, answer.text
    return answer.json()


def rules_in(html: str) -> list[str]:
    return re.findall(r'data-rule="([a-z-]+)"', html)


def parts(html: str) -> tuple[str, str]:
    """The list of what is left open with its counts, and what is folded beneath it."""
    left, _, away = html.partition('<details class="noted"')
    return left, away


def counted(html: str, level: str) -> int:
    found = re.search(rf"<span>(\d+)<span class=\"word\"> {level}s?</span>", html)
    assert found is not None
    return int(found[1])


def buttons(html: str) -> list[tuple[dict[str, Any], str]]:
    """Edit and accessible name of each button that puts a note away or brings it back."""
    found = re.findall(r'<button[^>]*class="note-away"[^>]*data-edit="([^"]*)"[^>]*>(.*?)</button>', html)
    return [(json.loads(edit.replace("&#34;", '"')), re.sub("<[^>]*>", "", name)) for edit, name in found]


def test_a_noted_note_is_folded_counted_no_more_and_comes_back_by_its_button_or_by_undo(stored: Stored) -> None:
    for hole in (0, 8):  # both fragments then hold cortex and locking screws under a plate that stands off
        stored.edit({"op": "set_role", "hole": hole, "role": "locking-2"})
    stored.edit({"op": "set_standoff", "standoff_mm": 1})
    before = stored.preview(None).json()["panels"]["warnings"]
    count = rules_in(before).count(TWICE)
    assert count > 1
    (edit, name) = next(found for found in buttons(before) if found[0]["rule"] == TWICE)
    about = edit.pop("subject")
    assert edit == {"op": "acknowledge", "rule": TWICE, "target": 0, "put_away": True}
    assert name.startswith(f"Noted: {TWICE}, ")
    answer = stored.edit({**edit, "subject": about}).json()
    assert answer["status"] == f"Noted: {TWICE}; 1 note folded away."
    left, away = parts(answer["panels"]["warnings"])
    assert (rules_in(left).count(TWICE), rules_in(away)) == (count - 1, [TWICE])
    assert stored.move("undo").status_code == 200
    answer = stored.edit(edit).json()  # without a subject: all notes of the rule
    assert answer["status"] == f"Noted: {TWICE}; {count} notes folded away."
    left, away = parts(answer["panels"]["warnings"])
    assert TWICE not in rules_in(left)
    assert rules_in(away) == [TWICE] * count
    assert f"<summary>Noted ({count})</summary>" in away
    assert counted(left, "note") == counted(before, "note") - count
    assert {edit["put_away"] for edit, _ in buttons(away)} == {False}
    assert all(name.startswith(f"Bring back: {TWICE}") for _, name in buttons(away))
    undone = stored.move("undo").json()
    assert undone["panels"]["warnings"] == before
    assert f"{count} notes back in the list" in undone["status"]
    assert parts(stored.move("redo").json()["panels"]["warnings"]) == (left, away)
    back = stored.edit(buttons(away)[0][0]).json()
    assert back["panels"]["warnings"] == before
    assert back["status"] == f"Brought back: {TWICE}; {count} notes back in the list."


def test_nothing_but_a_note_offers_it(stored: Stored) -> None:
    stored.edit({"op": "set_role", "hole": 3, "role": "empty"})
    html = stored.edit({"op": "set_role", "hole": 2, "role": "empty"}).json()["panels"]["warnings"]
    items = html.split('<li class="warning level-')[1:]
    told = [(re.split(r"\W", item)[0], "note-away" in item) for item in items]
    assert {level for level, _ in told} > {"note"}
    assert all(offered is (level == "note") for level, offered in told)


def test_a_note_on_the_case_is_noted_for_the_case(client: Any) -> None:
    document = humerus()
    bones = [
        {**document["constructs"][0], "bone": {"name": name}, "fracture": {"lines": [{"position_mm": 120}]}}
        for name in ("ulna", "radius")
    ]
    for bone in bones:
        bone["plate"] = {"series": "small-3.5", "holes": 9, "centre_mm": 120}
    stored = Stored(client, {**document, "constructs": bones})
    html = stored.preview(None).json()["panels"]["warnings"]
    (edit,) = [edit for edit, _ in buttons(html) if edit["rule"] == "two-bones"]
    assert edit["target"] is None
    answer = stored.edit({**edit}).json()
    assert "two-bones" in rules_in(parts(answer["panels"]["warnings"])[1])
    assert [one["rule"] for one in stored.get()["case"]["acknowledged"]] == ["two-bones"]
    plan = client.get(f"/cases/{stored.id}/plan").text
    assert plan.count("<h3>Acknowledged</h3>") == 1
    assert "<li>two-bones: " in plan


def test_the_plan_tells_what_was_noted(stored: Stored) -> None:
    path = f"/cases/{stored.id}/plan"
    before = stored.client.get(path).text
    assert "Acknowledged" not in before
    noted(stored)
    after = stored.client.get(path).text
    assert f"<li>{RISK}: " in after.split("<h3>Acknowledged</h3>")[1]
    assert after.count("radial nerve") == before.count("radial nerve")


def test_the_conference_counts_what_is_left(stored: Stored) -> None:
    def more() -> int:
        words: str = stored.client.get(f"{stored.path}/picture").json()["words"]
        return words.count('<li class="level-note"')

    html = stored.preview(None).json()["panels"]["warnings"]
    before = more()
    noted(stored)
    assert more() == before - rules_in(html).count(RISK)


def test_a_new_note_of_a_noted_rule_is_counted_in_the_sentence(stored: Stored) -> None:
    noted(stored)
    answer = stored.edit({"op": "move_plate", "centre_mm": 100}).json()
    assert re.search(r"\d notes? more among the noted|warnings? gone", answer["status"])


@pytest.mark.parametrize("rule", ["no-such-rule", "z"])
def test_a_rule_that_is_none_changes_nothing_that_is_told(stored: Stored, rule: str) -> None:
    before = stored.preview(None).json()["panels"]["warnings"]
    assert noted(stored, rule)["panels"]["warnings"] == before


def test_a_file_keeps_it_and_what_ifs_too(stored: Stored) -> None:
    noted(stored)
    exported = stored.client.get(f"/cases/{stored.id}/export").json()
    assert exported["constructs"][0]["acknowledged"] == [{"rule": RISK, "subject": None}]
    kept = stored.client.post(f"{stored.path}/whatifs", json={}).json()
    assert kept["swap"]["edits"][0]["value"]["acknowledged"] == exported["constructs"][0]["acknowledged"]
