"""What the plan tells beside the screws: wires, tension device, taps, countersink, checks, and which line is meant."""

from dataclasses import dataclass

import pytest

from app.case.models import BONES, BoneName, Construct, LagScrew
from app.geometry import Layout
from app.order import Step, order_document, plan, states, tool_list
from app.order.contour import bend_words
from app.order.corrections import Correctable, line_names, open_words, room_words
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
from tests.order.test_eccentric_pairs import pair


def steps_of(construct: Construct, kind: str) -> list[Step]:
    return [step for step in plan(laid(construct)) if step.kind == kind]


def instruments(*constructs: Construct) -> str:
    return "; ".join(item.name for item in tool_list(tuple(laid(one) for one in constructs)).instruments)


def at(layout: Layout, kind: str, screw: str | None = None) -> int:
    return next(i for i, step in enumerate(plan(layout)) if step.kind == kind and screw in (None, step.screw))


# --- checks at the end --------------------------------------------------------------------------------------------
@pytest.mark.parametrize("bone", BONES)
def test_the_plan_ends_with_checks(bone: BoneName) -> None:
    # common practice, no source: rotation, length and axis against the other side, images in two planes, screw tips
    steps = plan(laid(transverse(bone)))
    first = next(i for i, step in enumerate(steps) if step.kind == "check")
    assert {step.kind for step in steps[first:]} == {"check"}
    assert steps[first - 1].kind != "check"
    told = " ".join(step.what for step in steps[first:])
    for word in ("length", "axis", "other side", "two planes", "tip"):
        assert word in told
    assert ("rotation" in told) == (bone != "clavicle")  # the turn of a collarbone can't be seen from outside
    assert ("pronation and supination" in told) == (bone in ("radius", "ulna"))
    # StatPearls 2023, fibula fractures: the syndesmosis is looked at
    assert ("syndesmosis" in told) == (bone == "fibula")
    assert not any(letter.isdigit() for letter in told)
    assert all(step.screw is None and step.why for step in steps[first:])
    assert all(step.correctable == Correctable("no", "no", "no") for step in steps[first:])


def test_a_plan_without_screws_has_nothing_to_check() -> None:
    assert steps_of(oblique_radius(roles="........"), "check") == []


def test_a_check_moves_nothing_and_tells_what_is_left_open() -> None:
    layout = laid(oblique_radius(roles="N.N.E..N", gap_mm=3))
    found = states(layout)
    last = [state for state, step in zip(found, plan(layout), strict=True) if step.kind == "check"]
    assert {state.offsets for state in last} == {found[-4].offsets}
    assert "2.2 mm are open" in last[-1].sentence
    assert states(laid(oblique_radius()))[-1].sentence == "All screws are in."


# --- K-wires ------------------------------------------------------------------------------------------------------
def test_wires_hold_what_forceps_hold_badly() -> None:
    # common practice, no source: oblique lines, wedges and zones; a transverse line is held by forceps on the plate
    assert "K-wires" in steps_of(oblique_radius(), "reduce")[0].what
    assert "K-wires" in steps_of(bridged("femur"), "reduce")[0].what
    assert "K-wires" not in steps_of(transverse("radius"), "reduce")[0].what
    assert steps_of(transverse("radius"), "unwire") == []
    assert "K-wires" in instruments(oblique_radius())
    assert "K-wires" not in instruments(transverse("radius"))


def test_wires_come_out_before_the_line_is_compressed() -> None:
    # AO Surgery Reference, ulna: the clamp is released while compressing
    layout = laid(oblique_radius())
    assert at(layout, "insert", "h3") < at(layout, "unwire") < at(layout, "insert", "h5")
    assert "against the eccentric screw" in plan(layout)[at(layout, "unwire")].why


def test_wires_come_out_when_the_plate_holds_both_sides_and_the_lag_is_in() -> None:
    # common practice, no source
    layout = laid(protected("humerus"))
    assert at(layout, "unwire") == at(layout, "insert", "h8") + 1
    bridge = laid(bridged_ulna())
    assert at(bridge, "unwire") == at(bridge, "tighten", "h11") + 1
    assert "holds both sides" in plan(bridge)[at(bridge, "unwire")].why


@pytest.mark.parametrize("bone", BONES)
@pytest.mark.parametrize("make", [protected, bridged, lambda bone: oblique(bone, 40)], ids=["lag", "bridge", "oblique"])
def test_every_wire_that_goes_in_comes_out_once(bone: BoneName, make: type) -> None:
    construct: Construct = make(bone)
    assert "K-wires" in steps_of(construct, "reduce")[0].what
    assert len(steps_of(construct, "unwire")) == 1


# --- tension device -----------------------------------------------------------------------------------------------
def test_a_gap_wider_than_the_travel_asks_for_a_tension_device() -> None:
    # common practice, no source
    wide, closable = transverse("radius", gap_mm=2), transverse("radius", gap_mm=0.5)
    assert "tension device: the gap is wider" in instruments(wide)
    assert "tension device" not in instruments(closable)
    (told,) = [step for step in plan(laid(wide)) if "tension device" in step.what]
    assert (told.kind, told.screw) == ("insert", "h5")
    assert "distal end" in told.what
    assert "2 mm" in told.what
    # a lag through the plate closes it as well
    assert "tension device" not in instruments(oblique_radius(gap_mm=2))


def test_femur_and_tibia_may_use_a_tension_device_instead() -> None:
    # common practice, no source
    for bone in BONES:
        assert ("as the other way to compress" in instruments(transverse(bone))) == (bone in ("femur", "tibia"))
        assert "as the other way" not in instruments(oblique(bone, 40))
        assert "as the other way" not in instruments(bridged(bone))
    assert any("tension device" in step.why for step in plan(laid(transverse("femur"))))


# --- tap, countersink ---------------------------------------------------------------------------------------------
def test_taps_are_not_for_self_tapping_screws() -> None:
    names = [item.name for item in tool_list((laid(oblique_radius()),)).taps]
    assert names == ["tap 3.5 mm, not for self-tapping screws"]


def test_a_lag_beside_the_plate_is_countersunk() -> None:
    # AO Surgery Reference, hand: by hand and not too deep; a head in the plate has no bone under it
    steps = {step.screw: step for step in plan(laid(protected("tibia"))) if step.kind == "insert"}
    assert [name for name, step in steps.items() if step.countersink] == ["s1"]
    document = order_document(tuple(steps.values()))
    assert [entry["screw"] for entry in document if entry["countersink"]] == ["s1"]
    through = oblique_radius().model_copy(update={"lag_screws": (LagScrew(position_mm=118, tilt_deg=-20),)})
    assert [step.screw for step in plan(laid(through)) if step.countersink] == ["s1"]


# --- which line ---------------------------------------------------------------------------------------------------
def test_lines_have_names() -> None:
    assert line_names(1) == ("line",)
    assert line_names(2) == ("proximal line", "distal line")
    assert line_names(3) == ("proximal line", "middle line", "distal line")
    assert line_names(4) == ("proximal line", "line 2", "line 3", "distal line")


def test_what_differs_from_line_to_line_is_told_line_by_line() -> None:
    free, nothing = Correctable("yes", "yes", "yes"), Correctable("no", "no", "a little")
    assert room_words((nothing, free), "length") == "proximal line no, distal line yes"
    assert room_words((free, free), "length") == "yes"
    assert open_words((nothing, free)) == "proximal line: axis a little; distal line: length, rotation, axis"
    assert open_words((free,)) == "length, rotation, axis"


def test_a_segmental_fracture_is_lost_line_by_line() -> None:
    # common practice, no source: what crosses a line with one screw on either side fixes its length and rotation
    layout = laid(segmental("tibia"))
    steps = plan(layout)
    told = [room_words(step.lines, "length") for step in steps]
    assert told[0] == "yes"
    assert told[-1] == "no"
    assert "proximal line no, distal line yes" in told
    one = next(step for step in steps if room_words(step.lines, "length") == "proximal line no, distal line yes")
    assert one.correctable.length == "yes"
    entry = order_document((one,))[0]
    assert [(at["name"], at["length"]) for at in entry["correctable_at"]] == [
        ("proximal line", "no"),
        ("distal line", "yes"),
    ]


# --- contouring ---------------------------------------------------------------------------------------------------
@dataclass(frozen=True)
class Bend:
    holes: tuple[int, int]
    angle_deg: float


def test_bends_are_listed_between_their_holes() -> None:
    bends = (Bend((1, 2), 4.2), Bend((2, 3), -0.4), Bend((3, 4), 2.6), Bend((4, 5), -6.6))
    assert bend_words(bends) == (
        "4° away from the bone between holes 1 and 2, 3° between 3 and 4, 7° towards the bone between 4 and 5"
    )
    assert bend_words(()) == bend_words((Bend((1, 2), 0.3),)) == ""


# --- second eccentric screw in a combination hole -----------------------------------------------------------------
def test_the_first_neutral_screw_seats_less_after_a_second_eccentric_one() -> None:
    # bench test in plastic bone, Injury 2011: in combination holes the first neutral screw did not seat fully again
    checks = [step.why for step in plan(laid(oblique_radius(roles="N.N.EE.N"))) if step.kind == "recheck"]
    assert ["seats less" in why for why in checks] == [False, True]
    plain = oblique_radius(roles="N.N.EE.N")
    dynamic = plain.model_copy(update={"plate": plain.plate.model_copy(update={"series": "small-compression-3.5"})})
    assert laid(dynamic).series.hole_kind == "dynamic"
    assert not any("seats less" in step.why for step in plan(laid(dynamic)))
    assert not any("seats less" in step.why for step in plan(laid(pair())))
