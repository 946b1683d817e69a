"""The edit that draws what an AO/OTA code stands for, told when it is chosen; the codes are those of the compendium."""

import html
import re

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from app.assess import load_knowledge
from app.case.codes import patterns_of
from app.suggest import can_be_shown, pattern_edit
from tests.cases import humerus
from tests.client import Stored
from tests.surface.extremes import accepted, extreme_cases, extreme_edits

KNOWLEDGE = load_knowledge()


def test_every_entry_of_the_menu_leads_to_an_edit_that_is_made(stored: Stored) -> None:
    page = stored.client.get(f"/cases/{stored.id}").text
    asked = [html.unescape(found) for found in re.findall(r'data-ask="(patterns/[^"]*)"', page)]
    assert len(asked) == len(patterns_of("humerus"))
    for address in asked:
        told = stored.client.get(f"{stored.path}/{address}").json()
        assert told["version"] == stored.get()["version"]
        answer = stored.edit(told["edit"])
        assert answer.status_code == 200
        code = address.removeprefix("patterns/").partition("?")[0]
        assert answer.json()["status"].startswith(f"Draw {code}")
        assert stored.get()["case"]["constructs"][0]["fracture"]["code"] == code


@pytest.mark.parametrize(("address", "status"), [("42A1", 404), ("x", 404), ("12A2?construct=1", 404)])
def test_what_is_no_code_of_the_bone_is_not_there(stored: Stored, address: str, status: int) -> None:
    assert stored.client.get(f"{stored.path}/patterns/{address}").status_code == status


def test_choosing_a_screw_makes_no_other_set_up(stored: Stored) -> None:
    """The panel says what may be done with bone, lines and plate: it stays as it is to the letter."""
    before = stored.preview(None).json()["panels"]["setup"]
    after = stored.edit({"op": "set_role", "target": 0, "hole": 0, "role": "empty"}).json()["panels"]["setup"]
    assert stored.get()["case"] != humerus()
    assert after == before


@settings(max_examples=40, suppress_health_check=list(HealthCheck))
@given(st.data())
def test_whatever_is_there_each_pattern_can_be_drawn(data: st.DataObject) -> None:
    case = data.draw(extreme_cases())
    case = accepted(case, data.draw(extreme_edits(case))) or case
    for target, one in enumerate(case.constructs):
        for pattern in patterns_of(one.bone.name):
            assert can_be_shown(case, pattern_edit(one, target, pattern, KNOWLEDGE), KNOWLEDGE)
