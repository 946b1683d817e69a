"""The same problem on another bone. What is to be kept is our own demand; what is lost has to be said."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.assess import assess, load_knowledge
from app.case import Case, apply
from app.case.models import BONES, BoneName
from app.samples import Sample, load_samples
from app.suggest import accepted, on_other_bone
from tests.strategies import cases

KNOWLEDGE = load_knowledge()


@given(case=cases(), bone=st.sampled_from(BONES))
def test_every_case_can_be_put_on_every_bone_and_what_is_lost_is_said(case: Case, bone: BoneName) -> None:
    edit = on_other_bone(case, 0, bone, KNOWLEDGE)
    assert accepted(case, edit, KNOWLEDGE)
    old, new = case.constructs[0], apply(case, edit).constructs[0]
    said = edit.label.partition("not kept: ")[2].split(", ")
    assert (new.bone.name, new.bone.side, new.principle) == (bone, old.bone.side, old.principle)
    assert (new.fracture.gap_mm == old.fracture.gap_mm) or "the fracture as drawn" in said
    assert (set(old.screw_ids) <= set(new.screw_ids)) or "screws" in said
    assert (new.plate.series == old.plate.series) or "the plate" in said
    assert (new.order == old.order) or "the order" in said
    assert not old.acknowledged or "notes put away" in said
    # the surface is left out only where all else leaves no room for it
    assert f"plate on the {new.surface} surface" in edit.label or len(said) > 3
    assert new.acknowledged == ()


@pytest.mark.parametrize("sample", load_samples(), ids=lambda sample: sample.key)
def test_places_keep_their_share_of_the_shaft(sample: Sample) -> None:
    old = sample.case.constructs[0]
    before = assess(sample.case, KNOWLEDGE, mechanics=False).constructs[0].layout.shape.length_mm
    edits = [on_other_bone(sample.case, 0, bone, KNOWLEDGE) for bone in BONES]
    kept = [edit for edit in edits if "the fracture as drawn" not in edit.label]
    assert kept
    for edit in kept:
        case = apply(sample.case, edit)
        after = assess(case, KNOWLEDGE, mechanics=False).constructs[0].layout.shape.length_mm
        for was, now in zip(old.fracture.lines, case.constructs[0].fracture.lines, strict=True):
            assert now.position_mm / after == pytest.approx(was.position_mm / before, abs=0.001)
            assert now.obliquity_deg == was.obliquity_deg


def test_from_one_forearm_bone_to_the_other_the_layout_stays() -> None:
    sample = next(sample for sample in load_samples() if "radius" in sample.key)
    edit = on_other_bone(sample.case, 0, "ulna", KNOWLEDGE)
    new, old = apply(sample.case, edit).constructs[0], sample.case.constructs[0]
    assert (new.holes, new.plate.series, new.plate.holes) == (old.holes, old.plate.series, old.plate.holes)
