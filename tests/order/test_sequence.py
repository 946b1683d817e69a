"""The derived order and the steps that follow from it."""

import itertools

import pytest
from hypothesis import given, settings

from app.case.models import BONES, BoneName, Case, Construct
from app.geometry import Layout
from app.order import Step, bone_order, derive_order, order_document, plan, tool_list
from tests.order.constructs import (
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


def done(layout: Layout, order: tuple[str, ...] | None = None) -> list[tuple[str, str | None]]:
    return [(step.kind, step.screw) for step in plan(layout, order)]


def step_of(layout: Layout, screw: str) -> Step:
    return next(step for step in plan(layout) if step.screw == screw and step.kind == "insert")


def test_oblique_radius_goes_neutral_eccentric_recheck_lag_ends() -> None:
    # common practice, no source
    assert done(laid(oblique_radius())) == [
        ("reduce", None),
        ("contour", None),
        ("hold", None),
        ("insert", "h3"),
        ("unwire", None),
        ("insert", "h5"),
        ("recheck", "h3"),
        ("insert", "h4"),
        ("insert", "h1"),
        ("insert", "h8"),
        ("check", None),
        ("check", None),
        ("check", None),
    ]


def test_bridged_ulna_goes_end_other_end_tighten_then_inwards() -> None:
    # common practice, no source
    layout = laid(bridged_ulna())
    assert done(layout)[-10:-3] == [
        ("insert", "h1"),
        ("insert", "h11"),
        ("tighten", "h1"),
        ("tighten", "h11"),
        ("unwire", None),
        ("insert", "h3"),
        ("insert", "h9"),
    ]
    first, second, *_ = (step for step in plan(layout) if step.screw)
    assert "not fully tight" in first.what
    assert first.torque_nm is None
    # after the two end screws a little of the axis can still be corrected, length and rotation cannot
    assert (second.correctable.length, second.correctable.rotation, second.correctable.axis) == ("no", "no", "a little")
    last = plan(layout)[-1].correctable
    assert (last.length, last.rotation, last.axis) == ("no", "no", "no")


def test_protection_begins_with_the_lag() -> None:
    layout = laid(protected("humerus"))
    kinds = done(layout)
    assert kinds[:2] == [("reduce", None), ("insert", "s1")]
    # the lag beside the plate goes in before the plate is laid on
    assert kinds.index(("insert", "s1")) < kinds.index(("hold", None)) < kinds.index(("insert", "h3"))
    assert derive_order(layout)[-2:] == ("h1", "h10")


def test_mirrored_obliquity_begins_on_the_other_side() -> None:
    # 3 neutral and 5 eccentric with the obtuse corner distal: what is pulled can't be what is held
    assert derive_order(laid(oblique("humerus", 40)))[:3] == ("h3", "h7", "h5")
    assert derive_order(laid(oblique("humerus", -40)))[:3] == ("h7", "h3", "h5")


def test_pre_bent_plate_goes_from_the_fracture_outwards() -> None:
    # Wheeless, pre-bending of plates: inner screws first, outer last
    assert derive_order(laid(transverse("humerus"))) == ("h4", "h5", "h3", "h7", "h1", "h8")
    assert derive_order(laid(transverse("humerus", prebend_mm=0)))[2:4] == ("h1", "h8")


def test_cortex_screws_come_before_locking_ones_in_a_mixed_fragment() -> None:
    order = derive_order(laid(bridged("femur", conventional=True)))
    assert [order.index(name) for name in ("h2", "h11")] == [0, 1]


def test_segmental_fracture_closes_one_line_after_the_other() -> None:
    layout = laid(segmental("tibia"))
    order = derive_order(layout)
    pulls = [screw.id for screw in layout.screws if screw.role == "eccentric"]
    assert len(pulls) == 2
    assert [order[1], order[3]] == pulls
    assert [kind for kind, _ in done(layout)].count("recheck") == 2


def test_a_second_eccentric_screw_needs_the_first_backed_off() -> None:
    # Wheeless, theory of compression plates: a further 1 mm in the next hole after backing the first off
    layout = laid(oblique_radius(roles="N.N.EE.N"))
    assert [step for step in done(layout)[3:11] if step != ("unwire", None)] == [
        ("insert", "h3"),
        ("insert", "h5"),
        ("recheck", "h3"),
        ("loosen", "h5"),
        ("insert", "h6"),
        ("tighten", "h5"),
        ("recheck", "h3"),
    ]


def test_drills_guides_taps_and_torque() -> None:
    # common practice, no source: 2.5 for the thread of a 3.5 cortex screw, 3.5 for its gliding hole, 2.8 for locking
    radius, ulna = laid(oblique_radius()), laid(bridged_ulna())
    assert [(d.diameter_mm, d.guide) for d in step_of(radius, "h3").drills] == [(2.5, "neutral")]
    assert [(d.diameter_mm, d.guide) for d in step_of(radius, "h5").drills] == [(2.5, "eccentric")]
    lag = step_of(radius, "h4")
    assert [(d.diameter_mm, d.guide) for d in lag.drills] == [(3.5, "gliding"), (2.5, "centring sleeve")]
    assert lag.tap_mm == 3.5
    lock = step_of(ulna, "h3")
    assert [(d.diameter_mm, d.guide) for d in lock.drills] == [(2.8, "locking sleeve")]
    # from memory, to be checked: 1.5 N·m for a 3.5 locking screw
    assert lock.torque_nm == 1.5
    assert lock.tightness is not None
    assert "1.5 N·m" in lock.tightness
    # Am J Orthop 2016;45:E114-8: a limiter is true when it is turned slowly to one click
    assert "slowly, one click" in lock.tightness
    assert "by hand" in lock.tightness


def test_expected_depth_is_what_the_length_is_chosen_by() -> None:
    # the gauge reads from the seat of the head to the outside of the far cortex (AO Surgery Reference, depth gauge)
    for screw in laid(oblique_radius()).screws:
        depth = step_of(laid(oblique_radius()), screw.id).depth_mm
        assert depth == pytest.approx(screw.length_mm)


def test_pre_bend_and_contour_are_told_with_their_amounts() -> None:
    layout = laid(transverse("radius"))
    texts = {step.kind: step.what for step in plan(layout)}
    assert "1.5 mm" in texts["prebend"]
    assert f"{layout.contour_mm:.1f} mm" in texts["contour"]


def test_the_simple_fracture_comes_first() -> None:
    # AO Surgery Reference, forearm: reduce and provisionally fix the simpler, less comminuted one first
    ulna, radius = laid(bridged_ulna()), laid(oblique_radius())
    assert bone_order((ulna, radius)) == (1, 0)
    assert bone_order((radius, ulna)) == (0, 1)
    assert bone_order((radius, radius)) == (0, 1)


@pytest.mark.parametrize("bone", BONES)
@pytest.mark.parametrize("make", [transverse, protected, bridged, segmental])
def test_every_screw_goes_in_once(bone: BoneName, make: type) -> None:
    construct: Construct = make(bone)
    order = derive_order(laid(construct))
    assert sorted(order) == sorted(construct.screw_ids)
    inserted = [step.screw for step in plan(laid(construct)) if step.kind == "insert"]
    assert tuple(inserted) == order


def test_every_permutation_has_a_plan_that_puts_each_screw_in_once() -> None:
    layout = laid(oblique_radius())
    for order in itertools.permutations(layout.construct.screw_ids):
        steps = plan(layout, order)
        assert tuple(step.screw for step in steps if step.kind == "insert") == order
        assert [step.number for step in steps] == list(range(1, len(steps) + 1))
        rooms = ["no", "a little", "yes"]
        for name in ("length", "rotation", "axis"):
            told = [rooms.index(getattr(step.correctable, name)) for step in steps]
            assert told == sorted(told, reverse=True), "what is lost doesn't come back"
            assert told[-1] == 0


def test_the_document_is_plain_and_complete() -> None:
    steps = plan(laid(oblique_radius()))
    document = order_document(steps)
    assert [entry["step"] for entry in document] == [step.number for step in steps]
    lag = next(entry for entry in document if entry["screw"] == "h4" and entry["kind"] == "insert")
    assert lag["drills"] == [
        {"diameter_mm": 3.5, "guide": "gliding"},
        {"diameter_mm": 2.5, "guide": "centring sleeve"},
    ]
    assert lag["correctable"] == {"length": "no", "rotation": "no", "axis": "no"}
    assert lag["correctable_at"] == [{"line": 0, "name": "line", "length": "no", "rotation": "no", "axis": "no"}]
    assert lag["countersink"] is False


@settings(max_examples=60)
@given(case=cases())
def test_any_construct_has_an_order_and_a_plan(case: Case) -> None:
    for construct in case.constructs:
        layout = laid(construct, case.bone_quality)
        assert sorted(derive_order(layout)) == sorted(construct.screw_ids)
        for step in plan(layout):
            assert step.what
            assert step.why


def test_a_lag_that_nothing_compresses_for_goes_in_before_both_sides_are_fixed() -> None:
    # common practice, no source: two fragments already fixed to the plate cannot be drawn together by a lag
    layout = laid(oblique_radius(roles="N.NLN..N"))
    assert derive_order(layout) == ("h4", "h3", "h5", "h1", "h8")
    assert "axilla" not in "".join(step.why for step in plan(layout))


def test_a_lag_beside_the_plate_asks_for_a_countersink() -> None:
    # common practice, no source
    names = [item.name for item in tool_list((laid(protected("tibia")),)).instruments]
    assert "countersink" in names
    assert "countersink" not in [item.name for item in tool_list((laid(oblique_radius()),)).instruments]
