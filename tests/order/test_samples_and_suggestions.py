"""The derived order raises no order warning: for every sample case, and every suggestion by bone, pattern and quality.

The order rules themselves are checked elsewhere; here what derives the order must satisfy them.
"""

import pytest

from app.assess import ConstructAssessment, assess, load_knowledge
from app.case import Case, apply, parse_edit
from app.case.codes import patterns_of
from app.case.models import BONES
from app.order import derive_order, order_of, plan, states
from app.rules.sequence import ORDER_RULES
from app.samples import Sample, load_samples
from app.suggest import blank_case, pattern_edit, suggestions

KNOWLEDGE = load_knowledge()
SAMPLES = load_samples()
EVERY = [(bone, pattern) for bone in BONES for pattern in patterns_of(bone)]


def about_order(one: ConstructAssessment) -> list[str]:
    """A note on a missing torque figure is about the stock list, not about the order."""
    return [w.message for w in one.warnings if w.rule in ORDER_RULES.rules and w.rule != "torque-by-hand"]


def derived(case: Case) -> Case:
    for target in range(len(case.constructs)):
        case = apply(case, parse_edit({"op": "set_order", "target": target, "order": None}))
    return case


def assert_order_is_sound(case: Case) -> None:
    for one in assess(case, KNOWLEDGE, mechanics=False, remedies=False).constructs:
        assert about_order(one) == []
        assert sorted(derive_order(one.layout)) == sorted(screw.id for screw in one.layout.screws)
        found = states(one.layout)
        assert [state.step for state in found] == [step.number for step in plan(one.layout)]
        assert found[-1].screws == order_of(one.layout)


@pytest.mark.parametrize("sample", SAMPLES, ids=lambda sample: sample.key)
def test_samples(sample: Sample) -> None:
    assert_order_is_sound(derived(sample.case))


@pytest.mark.parametrize(("bone", "pattern"), EVERY)
@pytest.mark.parametrize("quality", ["normal", "reduced", "poor"])
def test_suggested_layouts(bone: str, pattern: str, quality: str) -> None:
    case = blank_case("Trial", bone, KNOWLEDGE)
    case = apply(case, parse_edit(pattern_edit(case.constructs[0], 0, pattern, KNOWLEDGE)))
    case = apply(case, parse_edit({"op": "set_quality", "bone_quality": quality}))
    found = suggestions(case, 0, KNOWLEDGE)
    assert found
    for one in found:
        assert_order_is_sound(apply(case, parse_edit(one.edit)))
