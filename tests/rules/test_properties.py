"""What holds for any construct: remedies mend, ends can be exchanged, warnings are well formed."""

from collections import Counter
from dataclasses import replace
from typing import Literal

from hypothesis import assume, given, settings

from app.case.models import Case, Construct, Hole
from app.catalogue import BoneSpec
from app.catalogue.models import Arc
from app.geometry import check_case
from app.rules.case_wide import CASE_WIDE_RULES
from app.rules.registry import LEVELS
from app.rules.registry import Warning as Warned
from tests.rules.judging import KNOWLEDGE, LAYOUT_RULES, edited, placed_warnings, told_again, warnings_of
from tests.strategies import OTHER_HAND, cases

RULES = LAYOUT_RULES.rules | CASE_WIDE_RULES.rules
OTHER_END: dict[str, Literal["proximal", "distal"]] = {"proximal": "distal", "distal": "proximal"}


@settings(max_examples=80)
@given(cases())
def test_every_remedy_of_any_case_is_an_edit_that_removes_its_own_warning(case: Case) -> None:
    before = placed_warnings(case)
    offered = [(place, warning, warning.remedy) for place, warning in before if warning.remedy is not None]
    assume(offered)
    for place, warning, remedy in offered:
        mended = edited(case, remedy.edit)
        assert check_case(mended, KNOWLEDGE.catalogue) == (), warning
        after = placed_warnings(mended)
        still = any(where == place and told_again(found, warning) for where, found in after)
        # with a screw taken out, the next one beside the plate inherits its number, and may inherit the fault
        assert not still or told(after, place, warning.rule) < told(before, place, warning.rule), (warning, mended)


def told(found: list[tuple[int, Warned]], place: int, rule: str) -> int:
    return sum(where == place and warning.rule == rule for where, warning in found)


@settings(max_examples=150)
@given(cases())
def test_warnings_are_well_formed(case: Case) -> None:
    for warning in warnings_of(case):
        assert warning.rule in RULES
        assert warning.level in LEVELS
        assert warning.message.endswith(".")
        assert warning.subject
        assert warning.source.endswith(")")


@settings(max_examples=150)
@given(cases())
def test_end_to_end_mirror_keeps_every_warning(case: Case) -> None:
    turned = mirrored(case)
    knowledge = replace(KNOWLEDGE, catalogue=replace(KNOWLEDGE.catalogue, bones=MIRRORED_BONES))
    assume(not check_case(turned, knowledge.catalogue))
    here, there = warnings_of(case), warnings_of(turned, knowledge)
    assert tally(here) == tally(there)
    ends = Counter((w.rule, exchanged(part)) for w in here for part in w.subject if part.startswith("fragment-"))
    assert ends == Counter((w.rule, part) for w in there for part in w.subject if part.startswith("fragment-"))


@settings(max_examples=100)
@given(cases())
def test_left_and_right_are_the_same(case: Case) -> None:
    """Reflected across the plate's width (z to -z), planes and directions turn the other way, and nothing else."""
    reflected = case.model_copy(update={"constructs": tuple(reflected_construct(one) for one in case.constructs)})
    here, there = warnings_of(case), warnings_of(reflected)
    assert Counter((w.rule, w.level, w.subject) for w in here) == Counter((w.rule, w.level, w.subject) for w in there)


def reflected_construct(construct: Construct) -> Construct:
    lines = tuple(
        line.model_copy(update={"turn_deg": -line.turn_deg, "spiral": OTHER_HAND[line.spiral]})
        for line in construct.fracture.lines
    )
    lags = tuple(lag.model_copy(update={"turn_deg": -lag.turn_deg}) for lag in construct.lag_screws)
    fracture = construct.fracture.model_copy(update={"lines": lines})
    return construct.model_copy(update={"fracture": fracture, "lag_screws": lags})


def tally(found: list[Warned]) -> Counter[tuple[str, str]]:
    return Counter((warning.rule, warning.level) for warning in found)


def exchanged(part: str) -> str:
    swap = {"fragment-proximal": "fragment-distal", "fragment-distal": "fragment-proximal"}
    return swap.get(part, part)


def mirrored_bone(bone: BoneSpec) -> BoneSpec:
    rows = tuple(replace(row, fraction=1 - row.fraction) for row in reversed(bone.profile))
    bows = tuple(
        replace(bow, arcs=tuple(Arc(1 - arc.end, 1 - arc.start, arc.radius_mm) for arc in reversed(bow.arcs)))
        for bow in bone.bows
    )
    shaft = 1 - bone.shaft[1], 1 - bone.shaft[0]
    risks = tuple(replace(risk, end=OTHER_END[risk.end]) for risk in bone.at_risk)
    joints = tuple(replace(joint, end=OTHER_END[joint.end]) for joint in bone.joints)
    return replace(bone, profile=rows, shaft=shaft, bows=bows, at_risk=risks, joints=joints)


MIRRORED_BONES = {name: mirrored_bone(bone) for name, bone in KNOWLEDGE.catalogue.bones.items()}


def mirrored(case: Case) -> Case:
    return case.model_copy(update={"constructs": tuple(mirrored_construct(one) for one in case.constructs)})


def mirrored_construct(construct: Construct) -> Construct:
    length = construct.bone.length_mm or KNOWLEDGE.catalogue.bones[construct.bone.name].length_mm
    fracture, plate = construct.fracture, construct.plate
    lines = tuple(
        line.model_copy(
            update={
                "position_mm": length - line.position_mm,
                "obliquity_deg": -line.obliquity_deg,
                "spiral": OTHER_HAND[line.spiral],
            }
        )
        for line in reversed(fracture.lines)
    )
    wedge = fracture.wedge
    if wedge is not None:
        wedge = wedge.model_copy(update={"line": len(lines) - 1 - wedge.line})
    lags = tuple(
        lag.model_copy(
            update={
                "position_mm": length - lag.position_mm,
                "tilt_deg": -lag.tilt_deg,
            }
        )
        for lag in construct.lag_screws
    )
    return construct.model_copy(
        update={
            "fracture": fracture.model_copy(update={"lines": lines, "wedge": wedge}),
            "plate": plate.model_copy(update={"centre_mm": length - plate.centre_mm}),
            "holes": tuple(Hole(role=hole.role, tilt_deg=-hole.tilt_deg) for hole in reversed(construct.holes)),
            "lag_screws": lags,
        }
    )
