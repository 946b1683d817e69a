"""A new case from four answers: every bone with every usual pattern begins with a layout that no rule objects to.

Outside: which patterns there are and what their codes are, AO/OTA compendium 2018 (app/case/codes.py says what of it
was read); which principle fits which, AO Principles of Fracture Management: absolute stability by compression or a lag
screw for simple patterns, relative stability by bridging for multifragmentary ones (handbook, from memory).
"""

import pytest

from app.assess import assess, load_knowledge
from app.case.codes import parse_code, patterns_of
from app.case.models import BONES
from app.mechanics.of_layout import left_out
from app.suggest import PATTERNS, begin, fitting

KNOWLEDGE = load_knowledge()
# No layout without a caution is found for these, and the page says so.
UNMET = {("fibula", "C2")}
EVERY = [(bone, pattern) for bone in BONES for pattern in PATTERNS]


def objections(case):
    judged = assess(case, KNOWLEDGE, remedies=False)
    found = [*judged.warnings, *(warning for one in judged.constructs for warning in one.warnings)]
    return [warning.rule for warning in found if warning.level in ("stop", "caution")]


@pytest.mark.parametrize(("bone", "pattern"), EVERY)
def test_every_bone_and_pattern_begins_with_a_layout_that_nothing_speaks_against(bone, pattern):
    begun = begin(KNOWLEDGE, bone, pattern, side="left")
    (construct,) = begun.case.constructs
    found = objections(begun.case)
    assert begun.stops_and_cautions == len(found)
    assert (found != []) == ((bone, pattern) in UNMET), found
    assert len(construct.screw_ids) >= 4
    lagged_wedge = pattern[0] == "B" and construct.lag_screws != ()  # the plate may then close what is left
    assert construct.principle in (*fitting(pattern), *(["compression"] if lagged_wedge else []))
    assert construct.bone.side == "left"
    assert begun.case.title.startswith(f"Left {bone}, ")
    code = parse_code(construct.fracture.code)
    assert (code.bone, code.kind) == (bone, pattern[0] if (bone, pattern[0]) != ("fibula", "C") else "B")
    assert pattern not in patterns_of(bone) or code.pattern == pattern


@pytest.mark.parametrize("bone", [bone for bone in BONES if "A1" in patterns_of(bone)])
def test_a_spiral_is_drawn_as_one_and_told_so(bone):
    """The compendium calls A1 spiral; what is drawn for it, and its code, agree."""
    (construct,) = begin(KNOWLEDGE, bone, "A1").case.constructs
    assert [line.spiral for line in construct.fracture.lines] == ["right"]
    case = begin(KNOWLEDGE, bone, "A1").case
    (judged,) = assess(case, KNOWLEDGE).constructs
    assert "pattern-angle" not in {warning.rule for warning in judged.warnings}
    assert "winds round the shaft" in left_out(judged.layout)


@pytest.mark.parametrize("kind", "ABC")
def test_the_principle_offered_first_is_the_textbooks(kind):
    firsts = {fitting(pattern)[0] for pattern in PATTERNS if pattern[0] == kind}
    assert firsts <= {"A": {"compression", "protection"}, "B": {"protection", "bridging"}, "C": {"bridging"}}[kind]


@pytest.mark.parametrize("bone", BONES)
def test_a_plate_of_ones_own_is_kept(bone):
    for series in KNOWLEDGE.catalogue.series:
        begun = begin(KNOWLEDGE, bone, "A2", series=series)
        (construct,) = begun.case.constructs
        assert construct.plate.series == series
        assert begun.stops_and_cautions in (None, len(objections(begun.case)))
        if series in KNOWLEDGE.catalogue.bones[bone].usual_series[:1]:
            assert begun.stops_and_cautions == 0


def test_a_principle_of_ones_own_is_kept_and_what_it_raises_is_told():
    begun = begin(KNOWLEDGE, "humerus", "C3", principle="compression")
    assert begun.case.constructs[0].principle == "compression"
    assert begun.stops_and_cautions != 0
    steep = begin(KNOWLEDGE, "humerus", "A1", principle="compression")  # pressed along the shaft it is mainly sheared
    assert steep.stops_and_cautions is None
    assert steep.case.constructs[0].screw_ids == ()
