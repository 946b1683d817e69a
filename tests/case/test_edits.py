"""Edits: pure, checked, and closed over valid cases."""

import json

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from app.case import Case, InvalidCase, apply, parse_case, parse_edit
from app.case.models import PutAway
from tests.case.test_document import EXAMPLE
from tests.strategies import cases, edits


@pytest.fixture
def case() -> Case:
    return parse_case(json.dumps(EXAMPLE))


def edited(case: Case, **edit: object) -> Case:
    return apply(case, parse_edit(edit))


def test_the_given_case_stays_as_it_was(case: Case) -> None:
    before = case.model_dump()
    moved = edited(case, op="move_fracture", position_mm=170.0)
    assert case.model_dump() == before
    assert moved.constructs[0].fracture.lines[0].position_mm == 170


def test_a_role_without_tilt_drops_the_tilt(case: Case) -> None:
    assert edited(case, op="set_role", hole=4, role="locking-2").constructs[0].holes[4].tilt_deg == 0


def test_an_order_follows_its_screws(case: Case) -> None:
    ids = list(case.constructs[0].screw_ids)
    case = edited(case, op="set_order", order=ids[::-1])
    case = edited(case, op="set_role", hole=0, role="empty")
    assert case.constructs[0].order == tuple(i for i in ids[::-1] if i != "h1")
    case = edited(case, op="set_role", hole=1, role="neutral")
    assert case.constructs[0].order is not None
    assert case.constructs[0].order[-1] == "h2"
    case = edited(case, op="remove_lag", lag=0)
    assert case.constructs[0].order is not None
    assert "s1" not in case.constructs[0].order


def test_removing_a_lag_screw_renumbers_those_behind_it(case: Case) -> None:
    case = edited(case, op="add_lag", value={"position_mm": 171, "tilt_deg": 30})
    case = edited(case, op="set_order", order=[*case.constructs[0].screw_ids[:-2], "s2", "s1"])
    assert edited(case, op="remove_lag", lag=0).constructs[0].order == (*case.constructs[0].screw_ids[:-2], "s1")


def test_fewer_holes_go_from_the_distal_end(case: Case) -> None:
    smaller = edited(case, op="set_plate", series="large-narrow-4.5", holes=7).constructs[0]
    assert smaller.holes == case.constructs[0].holes[:7]


def test_a_line_added_before_the_wedge_moves_the_wedge_along(case: Case) -> None:
    case = edited(case, op="set_wedge", wedge={"side": "near", "length_mm": 20})
    case = edited(case, op="add_line", value={"position_mm": 100})
    fracture = case.constructs[0].fracture
    assert fracture.wedge is not None
    assert fracture.lines[fracture.wedge.line].position_mm == 160
    assert edited(case, op="remove_line", line=1).constructs[0].fracture.wedge is None


def test_together_is_one_after_the_other(case: Case) -> None:
    both = edited(
        case,
        op="together",
        label="Swap",
        edits=[
            {"op": "set_role", "hole": 3, "role": "eccentric"},
            {"op": "set_role", "hole": 5, "role": "neutral"},
        ],
    )
    assert [hole.role for hole in both.constructs[0].holes[3:6]] == ["eccentric", "lag", "neutral"]


def test_noting_is_by_construct_or_by_case_and_can_be_taken_back(case: Case) -> None:
    """The demand is our own: kept in the case, in no order, once each; a file without any says nothing of it."""
    assert "acknowledged" not in json.dumps(json.loads(case.model_dump_json()))
    noted = edited(case, op="acknowledge", rule="screw-length", target=0)
    noted = edited(noted, op="acknowledge", rule="contour", target=0)
    assert edited(noted, op="acknowledge", rule="screw-length", target=0) == noted
    assert [one.rule for one in noted.constructs[0].acknowledged] == ["contour", "screw-length"]
    assert noted.acknowledged == ()
    whole = edited(noted, op="acknowledge", rule="two-bones", target=None)
    assert (whole.acknowledged, whole.constructs) == ((PutAway(rule="two-bones"),), noted.constructs)
    assert parse_case(whole.model_dump_json()) == whole
    back = whole
    for rule, target in (("two-bones", None), ("contour", 0), ("screw-length", 0), ("never-noted", 0)):
        back = edited(back, op="acknowledge", rule=rule, target=target, put_away=False)
    assert back == case


def test_notes_of_one_rule_on_two_things_are_put_away_one_by_one(case: Case) -> None:
    """The demand is our own: what was put away as any note of the rule comes back with the first that is asked for."""
    both = case
    for subject in ("h3", "plate h5"):
        both = edited(both, op="acknowledge", rule="contour", subject=subject, target=0)
    assert [one.subject for one in both.constructs[0].acknowledged] == ["h3", "plate h5"]
    one = edited(both, op="acknowledge", rule="contour", subject="h3", target=0, put_away=False)
    assert [kept.subject for kept in one.constructs[0].acknowledged] == ["plate h5"]
    any_note = edited(one, op="acknowledge", rule="contour", target=0)
    back = edited(any_note, op="acknowledge", rule="contour", subject="h3", target=0, put_away=False)
    assert [kept.subject for kept in back.constructs[0].acknowledged] == ["plate h5"]
    assert edited(any_note, op="acknowledge", rule="contour", target=0, put_away=False) == case


def test_a_surface_stays_with_the_bone_that_offers_it(case: Case) -> None:
    """The demand is our own: no edit leaves a plate on a surface that its bone has not."""
    back = edited(case, op="set_surface", surface="posterior")
    assert (back.constructs[0].plate.surface, back.constructs[0].surface) == ("posterior", "posterior")
    longer = edited(back, op="set_bone", bone={"name": "humerus", "length_mm": 310, "side": "left"})
    assert (longer.constructs[0].plate.surface, longer.constructs[0].bone.title) == ("posterior", "Left humerus")
    other = edited(back, op="set_bone", bone={"name": "tibia"})
    assert (other.constructs[0].plate.surface, other.constructs[0].surface) == (None, "medial")
    with pytest.raises(InvalidCase, match="anterolateral, posterior"):
        edited(case, op="set_surface", surface="medial")
    assert edited(edited(case, op="set_side", side="right"), op="set_side", side=None) == case


def test_what_was_noted_stays_through_other_edits(case: Case) -> None:
    noted = edited(case, op="acknowledge", rule="contour", target=0)
    for edit in (
        {"op": "move_fracture", "position_mm": 150},
        {"op": "set_plate", "series": "large-narrow-4.5", "holes": 7},
        {"op": "set_quality", "bone_quality": "poor"},
    ):
        assert edited(noted, **edit).constructs[0].acknowledged == (PutAway(rule="contour"),)


@pytest.mark.parametrize(
    ("edit", "says"),
    [
        ({"op": "fly"}, "set_title"),
        ({"op": "set_title", "title": "<x>"}, "title"),
        ({"op": "move_fracture", "line": 3, "position_mm": 1}, "fracture.lines.3"),
        ({"op": "move_fracture", "position_mm": 1e6}, "700"),
        ({"op": "move_fracture", "target": 2, "position_mm": 100}, "constructs.2"),
        ({"op": "set_role", "hole": 12, "role": "neutral"}, "holes.12"),
        ({"op": "set_tilt", "hole": 0, "tilt_deg": 46}, "45"),
        ({"op": "remove_line", "line": 0}, "at least one line"),
        ({"op": "remove_construct", "target": 0}, "at least one construct"),
        ({"op": "set_order", "order": ["h1", "h1"]}, "each placed screw once"),
        ({"op": "set_gap", "gap_mm": float("nan")}, "gap_mm"),
        ({"op": "acknowledge", "rule": "contour"}, "target"),
        ({"op": "acknowledge", "rule": "contour", "target": 4}, "constructs.4"),
        ({"op": "acknowledge", "rule": "Contour!", "target": 0}, "rule"),
        ({"op": "acknowledge", "rule": "c" * 41, "target": None}, "rule"),
        ({"op": "acknowledge", "rule": "contour", "subject": "h3  plate", "target": 0}, "subject"),
    ],
)
def test_a_refused_edit_says_why(case: Case, edit: dict[str, object], says: str) -> None:
    with pytest.raises(InvalidCase) as caught:
        apply(case, parse_edit(edit))
    assert says in str(caught.value)


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.filter_too_much, HealthCheck.too_slow])
@given(data=st.data())
def test_any_sequence_of_edits_keeps_the_case_valid(data: st.DataObject) -> None:
    case = data.draw(cases())
    for _ in range(6):
        try:
            case = apply(case, parse_edit(data.draw(edits(case))))
        except InvalidCase as refused:
            assert refused.faults
        assert parse_case(case.model_dump_json()) == case
