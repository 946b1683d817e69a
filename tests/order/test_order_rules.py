"""Rules on the order: the derived one raises none, and each wrong one raises those that its facts call for."""

import itertools
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given, settings

from app.case import apply, parse_edit
from app.case.models import BONES, BoneQuality, Case, Construct
from app.catalogue import load_thresholds
from app.geometry import Layout, check_case, summarise
from app.order import derive_order, plan, states
from app.rules import judge_construct
from app.rules.registry import RuleInput
from app.rules.registry import Warning as Warned
from app.rules.sequence import ORDER_RULES
from tests.order.constructs import (
    CATALOGUE,
    bridged,
    bridged_ulna,
    laid,
    oblique,
    oblique_radius,
    protected,
    segmental,
    transverse,
)
from tests.strategies import cases

THRESHOLDS = load_thresholds()


def case_of(construct: Construct, quality: BoneQuality = "normal") -> Case:
    return Case(format="fishplate-case/2", title="Order", bone_quality=quality, constructs=(construct,))


def judged(case: Case, target: int = 0) -> RuleInput:
    layout = laid(case.constructs[target], case.bone_quality)
    return judged_layout(case, layout, target)


def judged_layout(case: Case, layout: Layout, target: int = 0) -> RuleInput:
    return RuleInput(case, target, layout, summarise(layout), CATALOGUE, THRESHOLDS)


def warnings(construct: Construct, order: tuple[str, ...] | None = None) -> tuple[Warned, ...]:
    ordered = construct.model_copy(update={"order": order})
    return ORDER_RULES.judge(judged(case_of(ordered)))


def rules(construct: Construct, order: tuple[str, ...] | None = None) -> set[str]:
    return {warning.rule for warning in warnings(construct, order)}


def sensible() -> list[Any]:
    found = []
    for bone in BONES:
        made = {
            "transverse": transverse(bone),
            "unbent": transverse(bone, prebend_mm=0, gap_mm=0.5),
            "oblique": oblique(bone, 40),
            "mirrored": oblique(bone, -35),
            "protected": protected(bone),
            "bridged": bridged(bone),
            "mixed": bridged(bone, conventional=True),
            "segmental": segmental(bone),
        }
        found += [pytest.param(construct, id=f"{bone}-{name}") for name, construct in made.items()]
    return found


@pytest.mark.parametrize("quality", ["normal", "reduced", "poor"])
@pytest.mark.parametrize("construct", sensible())
def test_derived_order_raises_no_order_warning(construct: Construct, quality: BoneQuality) -> None:
    case = case_of(construct, quality)
    assert not check_case(case, CATALOGUE)
    # torque-by-hand speaks of figures in the stock list, whatever the order
    assert [warning for warning in ORDER_RULES.judge(judged(case)) if warning.rule != "torque-by-hand"] == []


def test_swapping_first_and_second_raises_obtuse_first() -> None:
    # common practice, no source
    construct = oblique_radius()
    assert rules(construct) == set()
    found = {warning.rule: warning for warning in warnings(construct, ("h5", "h3", "h4", "h1", "h8"))}
    assert set(found) == {"obtuse-first", "check-first-screw"}
    assert found["obtuse-first"].subject == ("h5", "line-0")
    assert "proximal" in found["obtuse-first"].message


def test_swapped_roles_are_told_once_and_exchanged() -> None:
    """Our own demand: the roles are at fault, not the order, so that one rule says it."""
    construct = oblique_radius(roles="N.ELN..N")
    assert rules(construct) == set()
    (found,) = [w for w in judge_construct(judged(case_of(construct))) if "obtuse corner" in w.message]
    assert found.rule == "first-screw-side"
    assert found.remedy is not None
    assert found.remedy.edit.op == "together"
    mended = apply(case_of(construct), parse_edit(found.remedy.edit))
    assert [hole.role for hole in mended.constructs[0].holes] == [hole.role for hole in oblique_radius().holes]


@pytest.mark.parametrize(
    ("construct", "order", "rule"),
    [
        pytest.param(oblique_radius(), ("h5", "h3", "h4", "h1", "h8"), "obtuse-first", id="acute side first"),
        pytest.param(oblique_radius(), ("h5", "h3", "h4", "h1", "h8"), "check-first-screw", id="nothing to pull on"),
        pytest.param(oblique_radius(), ("h3", "h4", "h5", "h1", "h8"), "compress-first", id="lag before travel"),
        pytest.param(oblique_radius(), ("h3", "h8", "h5", "h4", "h1"), "compress-first", id="moving side clamped"),
        pytest.param(
            oblique_radius(roles="2.NLE..2"), ("h3", "h5", "h1", "h8", "h4"), "lag-before-lock", id="lag after locks"
        ),
        pytest.param(
            oblique_radius(roles="2.NLE..2"), ("h3", "h8", "h5", "h4", "h1"), "eccentric-locked", id="pull after lock"
        ),
        pytest.param(bridged("femur", conventional=True), None, "cortex-before-lock", id="cortex after locks"),
        pytest.param(bridged_ulna(), ("h1", "h3", "h11", "h9"), "secure-other-end", id="one end settled alone"),
    ],
)
def test_remedy_removes_its_own_warning(construct: Construct, order: tuple[str, ...] | None, rule: str) -> None:
    case = case_of(construct.model_copy(update={"order": order or tuple(reversed(construct.screw_ids))}))
    if rule == "cortex-before-lock":
        ids = sorted(construct.screw_ids, key=lambda name: construct.holes[int(name[1:]) - 1].role)
        case = case_of(construct.model_copy(update={"order": tuple(ids)}))
    raised = [warning for warning in ORDER_RULES.judge(judged(case)) if warning.rule == rule]
    assert raised
    for warning in raised:
        assert warning.remedy is not None
        mended = apply(case, parse_edit(warning.remedy.edit))
        assert rule not in {after.rule for after in ORDER_RULES.judge(judged(mended))}


LEANS = [pair for pair in itertools.product((-45, 0, 45), repeat=2) if any(pair)]


@pytest.mark.parametrize("leans", LEANS)
def test_an_exchange_at_one_line_leaves_no_fault_at_it(leans: tuple[float, float]) -> None:
    """Our own demand: a remedy that leaves its own warning is none."""
    construct = segmental("tibia")
    lines = (
        line.model_copy(update={"obliquity_deg": lean})
        for line, lean in zip(construct.fracture.lines, leans, strict=True)
    )
    turned = construct.model_copy(update={"fracture": construct.fracture.model_copy(update={"lines": tuple(lines)})})
    assert "obtuse-first" not in rules(turned)
    found = [w for w in judge_construct(judged(case_of(turned))) if w.rule == "first-screw-side" and w.level != "note"]
    # both lines are pulled from outside: wrong where the outer fragment has the obtuse corner
    assert {warning.subject[-1] for warning in found} == {
        name for name, wrong in (("line-0", leans[0] > 0), ("line-1", leans[1] < 0)) if wrong
    }
    for warning in found:
        assert warning.remedy is not None
        mended = apply(case_of(turned), parse_edit(warning.remedy.edit))
        left = [w for w in judge_construct(judged(mended)) if w.level != "note"]
        assert (warning.rule, warning.subject[-1]) not in {(w.rule, w.subject[-1]) for w in left}
        assert "obtuse-first" not in {w.rule for w in left}


def test_torque_is_asked_for_where_the_stock_has_none() -> None:
    case = case_of(bridged_ulna())
    one = judged(case)
    bare = tuple(replace(screw, spec=replace(screw.spec, torque_nm=None)) for screw in one.layout.screws)
    (found,) = ORDER_RULES.judge(judged_layout(case, replace(one.layout, screws=bare)))
    assert (found.rule, found.level, found.subject) == ("torque-by-hand", "note", ("h1", "h3", "h9", "h11"))


def test_a_remembered_torque_is_said_to_be_one_where_it_is_used() -> None:
    # 1.5 N·m for a 3.5 screw is on the bench; the 4 N·m for a 5.0 one are from memory: no rule, nothing can be mended
    for construct, said in ((bridged_ulna(), False), (bridged("femur"), True)):
        assert ORDER_RULES.judge(judged(case_of(construct))) == ()
        told = [step.tightness for step in plan(laid(construct)) if step.tightness and "N·m" in step.tightness]
        assert told
        assert all(("from memory" in words) is said for words in told)


def test_every_permutation_of_five_screws_is_warned_about_by_its_facts() -> None:
    """All 120 orders of the radius: 1, 3 hold the obtuse side, 5 (eccentric), 8 the acute one, 4 is the lag."""
    construct = oblique_radius()
    layout = laid(construct)
    clean = 0
    for order in itertools.permutations(construct.screw_ids):
        at = {name: order.index(name) for name in order}
        first = min(("h1", "h3", "h5", "h8"), key=at.__getitem__)
        counter = min(at["h1"], at["h3"])
        pulls_at = max(at["h5"], counter)
        expected = set()
        if first in ("h5", "h8") and at["h4"] > at[first]:
            expected.add("obtuse-first")
        if at["h5"] < counter:
            expected.add("check-first-screw")
        if min(at["h4"], at["h8"]) < pulls_at:
            expected.add("compress-first")
        assert rules(construct, order) == expected, order
        final = states(layout, order)[-1]
        # the drawing agrees with the warnings: travel is lost, or slides, exactly when they say so
        assert (final.travel_used_mm == 0) == ("compress-first" in expected)
        assert (final.slide_mm > 0) == ("obtuse-first" in expected and "compress-first" not in expected)
        clean += not expected
    # by hand: 5 before 4 and 8 in a third of 120 orders, less the 24 that begin with 5
    assert clean == 120 // 3 - 24


def test_every_permutation_of_a_bridge_is_warned_about_by_its_facts() -> None:
    construct = bridged_ulna()
    side = {"h1": 0, "h3": 0, "h9": 1, "h11": 1}
    for order in itertools.permutations(construct.screw_ids):
        expected = {"secure-other-end"} if side[order[0]] == side[order[1]] else set()
        assert rules(construct, order) == expected, order


def test_every_permutation_of_a_mixed_construct() -> None:
    construct = oblique_radius(roles="2.NLE..2")
    for order in itertools.permutations(construct.screw_ids):
        at = {name: order.index(name) for name in order}
        found = rules(construct, order)
        assert ("lag-before-lock" in found) == (at["h4"] > max(at["h1"], at["h8"])), order
        assert ("cortex-before-lock" in found) == (at["h3"] > at["h1"]), order
        pulls_at = max(at["h5"], min(at["h1"], at["h3"]))
        stopped = min((at[name], name) for name in ("h4", "h8"))
        assert ("eccentric-locked" in found) == (stopped[1] == "h8" and stopped[0] < pulls_at), order
        assert ("compress-first" in found) == (stopped[1] == "h4" and stopped[0] < pulls_at), order


@settings(max_examples=80)
@given(case=cases())
def test_any_construct_can_be_judged_and_derived_is_never_worse(case: Case) -> None:
    for target, construct in enumerate(case.constructs):
        now = ORDER_RULES.judge(judged(case, target))
        assert all(warning.message and warning.subject for warning in now)
        back = construct.model_copy(update={"order": tuple(reversed(derive_order(laid(construct, case.bone_quality))))})
        turned = case.model_copy(update={"constructs": (back,)})
        for warning in ORDER_RULES.judge(judged(turned)):
            if warning.remedy is not None:
                mended = apply(turned, parse_edit(warning.remedy.edit))
                assert warning.rule not in {after.rule for after in ORDER_RULES.judge(judged(mended))}
