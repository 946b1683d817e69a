"""Eccentric screws in both fragments of a transverse fracture: each is what the other pulls against.

Source: Wheeless' Textbook of Orthopaedics, one-third tubular plate as a tension band: the first screw next to the
fracture is left loose, the second goes in eccentrically away from the fracture and is tightened, then the first.
That alternation between the sides adds compression: bench test in plastic bone with a load cell, Injury 2011.
"""

import itertools
import re

import pytest

from app.case.models import Bone, Construct, Fracture, FractureLine, Plate
from app.geometry import hole_offsets
from app.order import Step, derive_order, plan, states
from tests.order.constructs import CATALOGUE, holes, laid
from tests.order.test_order_rules import rules

OUTWARDS = ("h3", "h4", "h2", "h5", "h1", "h6")


def pair(roles: str = "NNEENN", *, obliquity_deg: float = 0, gap_mm: float = 0, prebend_mm: float = 1.5) -> Construct:
    """Six-hole plate on a radius with its middle over the line."""
    spec = CATALOGUE.bones["radius"]
    middle = spec.length_mm / 2
    return Construct(
        bone=Bone(name="radius"),
        fracture=Fracture(lines=(FractureLine(position_mm=middle, obliquity_deg=obliquity_deg),), gap_mm=gap_mm),
        principle="compression",
        plate=Plate(series=spec.usual_series[0], holes=len(roles), centre_mm=middle, prebend_mm=prebend_mm),
        holes=holes(roles),
    )


def steps_of(construct: Construct, *kinds: str) -> list[Step]:
    return [step for step in plan(laid(construct)) if step.kind in kinds]


def test_both_lead_and_nothing_neutral_goes_between() -> None:
    assert derive_order(laid(pair())) == OUTWARDS
    assert rules(pair()) == set()


def test_both_are_left_loose_then_tightened_in_turn() -> None:
    first, second, tighten, *rest = steps_of(pair(), "insert", "tighten", "loosen", "recheck")
    assert [(step.kind, step.screw) for step in (first, second, tighten)] == [
        ("insert", "h3"),
        ("insert", "h4"),
        ("tighten", "h3"),
    ]
    for step in (first, second):
        assert "left not fully tight" in step.what
        assert step.tightness is not None
        assert step.tightness.startswith("not fully")
    assert "holes 3 and 4 in turn" in tighten.what
    # neither has held the plate while the other pulled, so there is nothing to look at again
    assert [(step.kind, step.screw) for step in rest] == [("insert", name) for name in OUTWARDS[2:]]
    assert not any("not fully" in step.what for step in rest)


def test_the_travel_of_both_counts_and_acts_when_they_are_tightened() -> None:
    layout = laid(pair(gap_mm=1.2, prebend_mm=0))
    travel = layout.series.travel_mm
    found = {(step.kind, step.screw): state for step, state in zip(plan(layout), states(layout), strict=True)}
    for loose in ("h3", "h4"):
        assert found["insert", loose].travel_used_mm == 0
        assert found["insert", loose].lines[0].far_mm == pytest.approx(1.2)
    tight = found["tighten", "h3"]
    assert tight.travel_used_mm == pytest.approx(2 * travel)
    assert tight.lines[0].far_mm == 0
    assert re.search(r"gap closes by 1\.2 mm", tight.sentence)
    assert states(layout)[-1].travel_used_mm == pytest.approx(2 * travel)


def test_a_neutral_screw_between_them_loses_travel() -> None:
    # AO Surgery Reference, ulna: what clamps the moving side comes after the eccentric screw
    assert rules(pair(), ("h3", "h2", "h4", "h5", "h1", "h6")) == {"compress-first"}
    assert rules(pair(), ("h2", *OUTWARDS[:2], *OUTWARDS[3:])) == {"compress-first"}


def test_they_lead_from_either_side() -> None:
    swapped = ("h4", "h3", *OUTWARDS[2:])
    assert rules(pair(), swapped) == set()
    tighten = next(step for step in plan(laid(pair()), swapped) if step.kind == "tighten")
    assert "holes 4 and 3 in turn" in tighten.what


def test_only_orders_that_lead_with_both_are_clean() -> None:
    """By hand: the pair first, in either order, then the four neutral screws as one likes: 2 × 24 of 720 orders."""
    construct = pair()
    clean = [order for order in itertools.permutations(construct.screw_ids) if rules(construct, order) == set()]
    assert len(clean) == 48
    assert {frozenset(order[:2]) for order in clean} == {frozenset({"h3", "h4"})}


@pytest.mark.parametrize("obliquity_deg", [45, -45])
def test_in_an_oblique_line_the_obtuse_side_is_still_neutral_and_first(obliquity_deg: float) -> None:
    # AO Surgery Reference, application of compression plates to oblique fractures
    roles = "NNNENN" if obliquity_deg > 0 else "NNENNN"
    order = derive_order(laid(pair(roles, obliquity_deg=obliquity_deg)))
    assert order[:2] == (("h3", "h4") if obliquity_deg > 0 else ("h4", "h3"))
    assert rules(pair(roles, obliquity_deg=obliquity_deg)) == set()
    # with eccentric screws on both sides, which first-screw-side advises against, the obtuse side's leads
    both = pair(obliquity_deg=obliquity_deg)
    assert derive_order(laid(both))[0] == ("h3" if obliquity_deg > 0 else "h4")
    assert rules(both) == set()


@pytest.mark.parametrize("obliquity_deg", [-9, -5, 5, 9])
def test_nearly_transverse_lines_count_as_transverse(obliquity_deg: float) -> None:
    assert set(derive_order(laid(pair(obliquity_deg=obliquity_deg)))[:2]) == {"h3", "h4"}
    assert rules(pair(obliquity_deg=obliquity_deg)) == set()


def test_each_line_of_two_has_its_own_pair() -> None:
    spec, series = CATALOGUE.bones["tibia"], CATALOGUE.series["large-narrow-4.5"]
    middle = spec.length_mm / 2
    places = [middle + offset for offset in hole_offsets(series, 10)]
    lines = [(places[2] + places[3]) / 2, (places[6] + places[7]) / 2]
    construct = Construct(
        bone=Bone(name="tibia"),
        fracture=Fracture(lines=tuple(FractureLine(position_mm=s) for s in lines)),
        principle="compression",
        plate=Plate(series=series.key, holes=10, centre_mm=middle),
        holes=holes("NNEE..EENN"),
    )
    told = [step.what for step in steps_of(construct, "tighten")]
    assert ["holes 3 and 4" in told[0], "holes 7 and 8" in told[1], len(told)] == [True, True, 2]
    assert rules(construct) == set()
    assert states(laid(construct))[-1].travel_used_mm == pytest.approx(4 * series.travel_mm)


def test_a_third_eccentric_screw_waits_until_the_pair_is_tight() -> None:
    # Wheeless, theory of compression plates: the next in a fragment pulls after the one before is backed off
    done = [(step.kind, step.screw) for step in steps_of(pair("NEEENN"), "insert", "tighten", "loosen", "recheck")]
    assert done[:7] == [
        ("insert", "h3"),
        ("insert", "h4"),
        ("tighten", "h3"),
        ("loosen", "h3"),
        ("insert", "h2"),
        ("tighten", "h3"),
        ("recheck", "h4"),
    ]


def test_what_the_pair_draws_and_settles_belongs_to_the_step_in_which_it_is_tightened() -> None:
    # Wheeless, one-third tubular plate as a tension band: the first is left loose until the second is in
    first, second, tighten, *_ = steps_of(pair(), "insert", "tighten")
    for step in (first, second):
        assert "draws the" not in step.why
        assert step.correctable.rotation != "no"
        assert step.correctable.length != "no"
    assert "hole 3" in second.why
    assert "draw the fracture together" in tighten.why
    assert (tighten.correctable.length, tighten.correctable.rotation) == ("no", "no")
