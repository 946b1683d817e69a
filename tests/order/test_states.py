"""Consequences: rigid-body geometry against independent constructions."""

import itertools
import math

import pytest
from hypothesis import given, settings

from app.case.models import Case, Construct
from app.geometry import Layout
from app.order import State, plan, states
from tests.order.constructs import bridged_ulna, holes, laid, oblique_radius, transverse
from tests.strategies import cases

WRONG = ("h5", "h3", "h4", "h1", "h8")


def last(construct: Construct, order: tuple[str, ...] | None = None) -> State:
    return states(laid(construct), order)[-1]


def after(layout: Layout, screw: str, order: tuple[str, ...] | None = None) -> State:
    steps = plan(layout, order)
    number = next(step.number for step in steps if step.screw == screw and step.kind == "insert")
    return states(layout, order)[number - 1]


def standoff(construct: Construct, mm: float) -> Construct:
    return construct.model_copy(update={"plate": construct.plate.model_copy(update={"standoff_mm": mm})})


def test_one_state_per_step() -> None:
    layout = laid(oblique_radius())
    assert [state.step for state in states(layout)] == [step.number for step in plan(layout)]


def test_the_gap_closes_by_the_travel_and_no_further() -> None:
    layout = laid(oblique_radius(gap_mm=0.5))
    assert after(layout, "h3").lines[0].near_mm == 0.5
    closed = after(layout, "h5")
    assert closed.lines[0].near_mm == closed.lines[0].far_mm == 0
    assert closed.travel_used_mm == layout.series.travel_mm
    assert closed.lines[0].pressed_mm == pytest.approx(layout.series.travel_mm - 0.5)
    assert closed.offsets[1].ds_mm == pytest.approx(-0.5)
    wide = after(laid(oblique_radius(gap_mm=3)), "h5")
    assert wide.lines[0].near_mm == pytest.approx(3 - layout.series.travel_mm)


def test_right_order_slides_nothing() -> None:
    for gap in (0, 0.5, 3):
        assert all(state.slide_mm == 0 for state in states(laid(oblique_radius(gap_mm=gap))))


@pytest.mark.parametrize("obliquity", [30, 40, 60])
def test_acute_side_first_slides_along_the_line(obliquity: float) -> None:
    layout = laid(oblique_radius(obliquity_deg=obliquity))
    state = after(layout, "h3", WRONG)
    moved = state.offsets[0]
    # the loose fragment carries the obtuse corner, goes towards the fracture and away from the plate
    assert moved.fragment == "proximal"
    assert moved.ds_mm > 0
    assert moved.dy_mm < 0
    # independent: project the travel vector on the direction of the line, taken from two points of the laid face
    line = layout.fracture.lines[0]
    (x1, y1), (x2, y2) = (line.proximal_face(10), 10.0), (line.proximal_face(-10), -10.0)
    length = math.hypot(x2 - x1, y2 - y1)
    along = layout.series.travel_mm * (x2 - x1) / length
    assert state.slide_mm == pytest.approx(abs(along))
    assert (moved.ds_mm, moved.dy_mm) == pytest.approx((along * (x2 - x1) / length, along * (y2 - y1) / length))
    # and the face it slides on is never left nor entered
    for y in (-7, 0, 7):
        assert line.proximal_face(y) + moved.ds_mm == pytest.approx(line.distal_face(y + moved.dy_mm))


def test_slide_mirrors() -> None:
    mirrored = laid(oblique_radius(roles="N.ELN..N", obliquity_deg=-40))
    state = after(mirrored, "h5", ("h3", "h5", "h4", "h1", "h8"))
    straight = after(laid(oblique_radius()), "h3", WRONG)
    assert state.offsets[1].ds_mm == pytest.approx(-straight.offsets[0].ds_mm)
    assert state.offsets[1].dy_mm == pytest.approx(straight.offsets[0].dy_mm)


def test_swapped_roles_slide_too() -> None:
    state = after(laid(oblique_radius(roles="N.ELN..N")), "h3")
    assert state.slide_mm == pytest.approx(0.8 * math.sin(math.radians(40)))
    assert "slides" in state.sentence


def test_a_gap_takes_up_the_travel_before_anything_slides() -> None:
    layout = laid(oblique_radius(gap_mm=0.5))
    assert after(layout, "h3", WRONG).slide_mm == pytest.approx(0.3 * math.sin(math.radians(40)))
    assert after(laid(oblique_radius(gap_mm=1)), "h3", WRONG).slide_mm == 0


def test_a_lag_before_the_eccentric_screw_holds_against_the_travel() -> None:
    layout = laid(oblique_radius())
    state = after(layout, "h5", ("h3", "h4", "h5", "h1", "h8"))
    assert state.travel_used_mm == 0
    assert "no effect" in state.sentence


def test_two_locked_fragments_hold_the_gap_open() -> None:
    construct = oblique_radius(roles="2.NLE..2", gap_mm=0.6)
    layout = laid(construct)
    late = states(layout, ("h1", "h8", "h5", "h3", "h4"))
    assert late[-1].lines[0].near_mm == pytest.approx(0.6)
    assert any("stays open" in state.sentence for state in late)
    assert states(layout)[-1].lines[0].near_mm == 0


def test_a_lag_closes_what_is_not_locked() -> None:
    layout, order = laid(oblique_radius(roles="N.NLN..N", gap_mm=0.6)), ("h3", "h5", "h4", "h1", "h8")
    assert after(layout, "h5", order).lines[0].near_mm == pytest.approx(0.6)
    assert after(layout, "h4", order).lines[0].near_mm == 0


def test_a_zone_is_not_closed_by_a_lag() -> None:
    construct = bridged_ulna(roles="2.2..L..2.2")
    assert last(construct).lines[0].near_mm == pytest.approx(30)


def test_pre_bend_opens_the_near_cortex_first_and_travel_closes_it() -> None:
    # AO Surgery Reference, transverse fractures: the bent plate closes the far cortex, too much of it gaps the near one
    layout = laid(transverse("humerus", prebend_mm=1.5))
    line = layout.fracture.lines[0]
    low, high = layout.plate_ends_mm
    kink = math.atan(1.5 / (line.position_mm - low)) + math.atan(1.5 / (high - line.position_mm))
    before, behind = after(layout, "h4"), after(layout, "h5")
    assert before.plate_bow_mm == 1.5
    # without travel the fragments would stand open by depth × kink at the near cortex; the travel closes what it can
    opened = line.depth_mm * kink
    assert behind.lines[0].far_mm == 0
    assert behind.lines[0].near_mm == pytest.approx(max(0.0, opened - layout.series.travel_mm), abs=0.01)
    strong = laid(transverse("humerus", prebend_mm=4))
    left = after(strong, "h5")
    assert left.lines[0].near_mm > 1
    assert "the far one touches" in left.sentence
    # the tilted fragment's near corner really stands that far from the other's
    moved = left.offsets[1]
    turn = math.radians(moved.rotation_deg)
    corner_y = strong.fracture.lines[0].depth_mm
    assert -corner_y * math.sin(turn) == pytest.approx(left.lines[0].near_mm, rel=0.01)


def test_plate_turns_with_a_locking_screw_only_while_the_other_end_is_free() -> None:
    layout = laid(bridged_ulna())
    assert all(state.plate_turn_deg == 0 for state in states(layout))
    wrong = ("h1", "h3", "h9", "h11")
    turned = after(layout, "h1", wrong)
    assert turned.turns_about == "h1"
    lever = layout.holes[-1].s_mm - layout.holes[0].s_mm
    assert lever * math.tan(math.radians(turned.plate_turn_deg)) == pytest.approx(
        layout.shape.width(layout.holes[-1].s_mm) / 2
    )
    assert after(layout, "h9", wrong).plate_turn_deg == 0


def test_cortex_screw_draws_plate_to_bone_and_a_locked_fragment_makes_a_step() -> None:
    construct = standoff(bridged_ulna(roles="2.N.....N.2"), 2)
    layout = laid(construct)
    drawn = states(layout)[-1]
    assert drawn.plate_gap_mm == 0
    assert [offset.dy_mm for offset in drawn.offsets] == [0, 0]
    stepped = after(layout, "h9", ("h1", "h9", "h3", "h11"))
    assert stepped.plate_gap_mm == 2
    assert stepped.offsets[1].dy_mm == pytest.approx(2)
    assert "step of 2.0 mm" in stepped.sentence
    locked = states(laid(standoff(bridged_ulna(), 2)))[-1]
    assert locked.plate_gap_mm == 2
    assert [offset.dy_mm for offset in locked.offsets] == [0, 0]


def test_no_screws_is_a_state_too() -> None:
    construct = bridged_ulna().model_copy(update={"holes": holes("." * 11)})
    assert last(construct).screws == ()


@settings(max_examples=60)
@given(case=cases())
def test_every_state_is_finite_and_told(case: Case) -> None:
    for construct in case.constructs:
        for state in states(laid(construct, case.bone_quality)):
            assert state.sentence
            figures = [state.plate_gap_mm, state.plate_bow_mm, state.plate_turn_deg, state.slide_mm]
            for offset in state.offsets:
                figures += [offset.ds_mm, offset.dy_mm, offset.rotation_deg, *offset.pivot]
            assert all(math.isfinite(value) for value in figures)
            assert all(line.near_mm >= 0 and line.far_mm >= 0 for line in state.lines)


def test_every_permutation_has_states_that_only_close() -> None:
    layout = laid(oblique_radius(gap_mm=0.5))
    for order in itertools.permutations(layout.construct.screw_ids):
        gaps = [state.lines[0].near_mm for state in states(layout, order)]
        assert gaps == sorted(gaps, reverse=True)
        assert gaps[-1] == 0
