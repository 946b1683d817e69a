"""Suggested layouts: for every bone and pattern, no stop and no caution, the demand being our own."""

import pytest

from app.assess import assess, load_knowledge
from app.case import Case, apply, parse_edit
from app.case.codes import patterns_of
from app.case.models import BONES
from app.suggest import blank_case, fitting_principles, pattern_edit, suggest, suggestions

KNOWLEDGE = load_knowledge()
EVERY = [(bone, pattern) for bone in BONES for pattern in patterns_of(bone)]


def fractured(bone: str, pattern: str, quality: str = "normal") -> Case:
    case = blank_case("Trial", bone, KNOWLEDGE)
    case = apply(case, parse_edit(pattern_edit(case.constructs[0], 0, pattern, KNOWLEDGE)))
    return apply(case, parse_edit({"op": "set_quality", "bone_quality": quality}))


@pytest.mark.parametrize(("bone", "pattern"), EVERY)
@pytest.mark.parametrize("quality", ["normal", "poor"])
def test_every_suggestion_is_clean(bone: str, pattern: str, quality: str) -> None:
    case = fractured(bone, pattern, quality)
    found = suggestions(case, 0, KNOWLEDGE)
    fitting = fitting_principles(case.constructs[0], KNOWLEDGE)
    # a wedge whose main line takes no lag screw is compressed beside its lag instead of protected
    wedged = case.constructs[0].fracture.wedge is not None
    instead: set[str] = {"compression"} if wedged else set()
    assert set(fitting) - {one.principle for one in found} <= ({"protection"} if wedged else set())
    assert {one.principle for one in found} <= set(fitting) | instead
    assert all(one.purpose.endswith(".") for one in found)
    for one in found:
        judged = assess(apply(case, parse_edit(one.edit)), KNOWLEDGE)
        grave = [(w.rule, w.message) for w in judged.constructs[0].warnings if w.level != "note"]
        assert grave == []
        assert (one.stops, one.cautions) == (0, 0)


def test_what_the_user_drew_stays() -> None:
    case = fractured("tibia", "A2")
    one = suggestions(case, 0, KNOWLEDGE)[0]
    after = apply(case, parse_edit(one.edit)).constructs[0]
    assert (after.bone, after.fracture) == (case.constructs[0].bone, case.constructs[0].fracture)


def test_poor_bone_is_filled() -> None:
    normal, poor = (suggest(fractured("humerus", "A2", q), 0, "compression", KNOWLEDGE) for q in ("normal", "poor"))
    assert normal is not None
    assert poor is not None
    holes = poor.edit.value.holes
    over = assess(apply(fractured("humerus", "A2", "poor"), parse_edit(poor.edit)), KNOWLEDGE).constructs[0]
    empty = [n for n, hole in enumerate(holes, 1) if hole.role == "empty"]
    assert set(empty) <= set(over.summary.holes_over_fracture)


def test_principles_follow_what_is_drawn_where_no_code_is_given() -> None:
    case = fractured("femur", "C3")
    bare = apply(case, parse_edit({"op": "set_code", "code": None}))
    assert fitting_principles(bare.constructs[0], KNOWLEDGE) == ("bridging",)


def test_what_was_noted_stays_noted_in_a_suggestion() -> None:
    case = apply(
        fractured("radius", "A2"), parse_edit({"op": "acknowledge", "rule": "structures-at-risk", "target": 0})
    )
    found = suggestions(case, 0, KNOWLEDGE)
    assert found
    for one in found:
        assert apply(case, one.taken).constructs[0].acknowledged == case.constructs[0].acknowledged


@pytest.mark.parametrize(("bone", "pattern"), EVERY)
def test_on_a_plate_that_carries_a_clean_layout_one_is_offered_without_moving_it(bone: str, pattern: str) -> None:
    case = fractured(bone, pattern)
    taken = apply(case, parse_edit(suggestions(case, 0, KNOWLEDGE)[0].edit))
    emptied = taken.constructs[0].model_copy(
        update={"holes": case.constructs[0].holes[:1] * len(taken.constructs[0].holes), "lag_screws": (), "order": None}
    )
    bare = taken.model_copy(update={"constructs": (emptied,)})
    found = suggestions(bare, 0, KNOWLEDGE, as_it_is=True)
    assert any(one.stops + one.cautions == 0 for one in found)
    for one in found:
        plate = one.edit.value.plate
        assert plate.model_copy(update={"prebend_mm": 0}) == emptied.plate.model_copy(update={"prebend_mm": 0})
        judged = assess(apply(bare, parse_edit(one.edit)), KNOWLEDGE).constructs[0]
        levels = [warning.level for warning in judged.warnings]
        assert (levels.count("stop"), levels.count("caution")) == (one.stops, one.cautions)
