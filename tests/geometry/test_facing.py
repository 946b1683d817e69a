"""How bones lie under their plates: against anatomy worked out by hand, and numpy's determinants."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.assess import assess_stored, load_knowledge
from app.case import apply
from app.case.edits import SetSurface
from app.case.models import BONES, SURFACES, BodySide, Bone, BoneName, Fracture, FractureLine, Surface
from app.catalogue.models import Arc
from app.geometry import bone_shape, check_case
from app.geometry.facing import DIRECTIONS, facing, name_of, vector
from app.geometry.profile import typical_midshaft_depth
from app.suggest import blank_case
from app.suggest.proposals import refusal
from tests.strategies import CATALOGUE

KNOWLEDGE = load_knowledge()
ALL = [(bone, surface) for bone in BONES for surface in SURFACES[bone]]
NORMAL = CATALOGUE.qualities["normal"]

# Anatomical position (any textbook of anatomy), each worked out by hand. A person stands upright, palms forwards; the
# reader looks straight at the surface and turns the picture until the proximal end is at its left: of a limb by a
# quarter anticlockwise, which brings up what was at the right. From a person's right side the face is at the right,
# from the left side at the left; from in front a right limb's outer side is at the left, from behind at the right.
TOP: dict[tuple[BoneName, Surface, BodySide], tuple[str, str]] = {
    ("femur", "lateral", "right"): ("anterior", "posterior"),
    ("femur", "lateral", "left"): ("posterior", "anterior"),
    ("tibia", "medial", "right"): ("posterior", "anterior"),  # looked at from the left
    ("tibia", "medial", "left"): ("anterior", "posterior"),
    ("tibia", "lateral", "right"): ("anterior", "posterior"),
    ("fibula", "posterior", "right"): ("lateral", "medial"),
    ("fibula", "lateral", "left"): ("posterior", "anterior"),
    ("radius", "anterior", "right"): ("medial", "lateral"),
    ("radius", "anterior", "left"): ("lateral", "medial"),
    ("radius", "posterior", "right"): ("lateral", "medial"),
    ("radius", "lateral", "right"): ("anterior", "posterior"),
    ("ulna", "posterior", "left"): ("medial", "lateral"),
    ("ulna", "anterior", "left"): ("lateral", "medial"),
    ("humerus", "posterior", "left"): ("medial", "lateral"),
    # between the front, with medial on top, and the side, with anterior on top
    ("humerus", "anterolateral", "right"): ("anteromedial", "posterolateral"),
    ("humerus", "anterolateral", "left"): ("posterolateral", "anteromedial"),
    # from above, the sternal end at the left: a right clavicle's reader stands behind the person
    ("clavicle", "superior", "right"): ("anterior", "posterior"),
    ("clavicle", "superior", "left"): ("posterior", "anterior"),
    # from in front a left clavicle runs to the right as it is; a right one is turned upside down
    ("clavicle", "anterior", "left"): ("superior", "inferior"),
    ("clavicle", "anterior", "right"): ("inferior", "superior"),
}


@pytest.mark.parametrize(("bone", "surface", "side"), TOP)
def test_edges_are_those_that_a_reader_sees(bone: BoneName, surface: Surface, side: BodySide) -> None:
    seen = facing(CATALOGUE.bones[bone], surface, side)
    assert (seen.top, seen.bottom) == TOP[bone, surface, side]
    assert seen.said


FAR = {"lateral": "medial", "medial": "lateral", "anterior": "posterior", "posterior": "anterior"}
FAR |= {"superior": "inferior", "anterolateral": "posteromedial"}


@pytest.mark.parametrize(("bone", "surface"), ALL)
def test_the_far_surface_is_the_opposite_one(bone: BoneName, surface: Surface) -> None:
    assert facing(CATALOGUE.bones[bone], surface, "left").far == FAR[surface]


@pytest.mark.parametrize(("bone", "surface"), ALL)
def test_the_other_side_of_the_body_turns_the_edges_round_and_nothing_else(bone: BoneName, surface: Surface) -> None:
    left, right, none = (facing(CATALOGUE.bones[bone], surface, side) for side in ("left", "right", None))
    assert (left.top, left.bottom) == (right.bottom, right.top)
    assert (left.far, left.swapped, left.under) == (right.far, right.swapped, right.under)
    assert left.across == tuple(Arc(arc.start, arc.end, -arc.radius_mm) for arc in right.across)
    # where nobody has said the side, the edges are a right bone's
    assert (none.top, none.bottom, none.across, none.said) == (right.top, right.bottom, right.across, False)


@pytest.mark.parametrize(("bone", "surface"), ALL)
@pytest.mark.parametrize("side", ["left", "right"])
def test_the_face_view_is_turned_and_never_mirrored(bone: BoneName, surface: Surface, side: BodySide) -> None:
    """A picture of a body shows right, up and towards the reader right-handed: numpy's determinant is 1."""
    spec = CATALOGUE.bones[bone]
    top = facing(spec, surface, side).top
    picture = np.array([vector(spec.distally, side), vector(top, side), vector(surface, side)])
    assert np.linalg.det(picture) == pytest.approx(1)
    assert picture @ picture.T == pytest.approx(np.eye(3))


@given(st.sampled_from(sorted(DIRECTIONS)), st.sampled_from(["left", "right"]), st.floats(-0.3, 0.3))
def test_every_direction_has_its_own_name(name: str, side: BodySide, off: float) -> None:
    """Names lie 45° apart in a plane: 17° beside one it is still the nearest."""
    at = np.array(vector(name, side))
    assert np.linalg.norm(at) == pytest.approx(1)
    other = np.cross(at, (0.6, 0.0, 0.8) if abs(at[1]) > 0.5 else (0.0, 1.0, 0.0))
    x, y, z = at + off * other / np.linalg.norm(other)
    assert name_of((float(x), float(y), float(z)), side) == name


# By the directions in which depths were measured (Goldman data set: front to back in the humerus and the radius, side
# to side in the femur and the tibia): a plate that looks along the other one has the width in its plane.
SWAPPED = {("radius", "lateral"), ("clavicle", "anterior"), ("fibula", "posterior")}


@pytest.mark.parametrize(("bone", "surface"), ALL)
def test_depth_and_width_change_places_where_the_plate_looks_the_other_way(bone: BoneName, surface: Surface) -> None:
    spec = CATALOGUE.bones[bone]
    shape = bone_shape(Bone(name=bone), spec, NORMAL, surface)
    usual = bone_shape(Bone(name=bone), spec, NORMAL, SURFACES[bone][0])
    for row in spec.profile:
        s = row.fraction * spec.length_mm
        mine = (row.width_mm, row.depth_mm) if (bone, surface) in SWAPPED else (row.depth_mm, row.width_mm)
        assert (shape.depth(s), shape.width(s)) == pytest.approx(mine)
        assert (usual.depth(s), usual.width(s)) == pytest.approx((row.depth_mm, row.width_mm))


@pytest.mark.parametrize(("bone", "surface"), ALL)
def test_another_surface_shows_the_same_patients_bone(bone: BoneName, surface: Surface) -> None:
    """The mid-shaft depth is the patient's own diameter: neither it nor the section's area goes with the plate."""
    spec = CATALOGUE.bones[bone]
    asked = round(typical_midshaft_depth(spec.profile) * 1.1, 1)
    patient = Bone(name=bone, midshaft_depth_mm=asked)
    here, usual = (bone_shape(patient, spec, NORMAL, at) for at in (surface, SURFACES[bone][0]))
    middle = spec.length_mm / 2
    assert usual.depth(middle) == pytest.approx(asked)
    assert asked in (pytest.approx(here.depth(middle)), pytest.approx(here.width(middle)))
    for s in np.linspace(0, spec.length_mm, 31):
        assert here.depth(s) * here.width(s) == pytest.approx(usual.depth(s) * usual.width(s))
        assert here.wall(s) == usual.wall(s)


def radii(arcs: tuple[Arc, ...]) -> list[float]:
    return [round(arc.radius_mm) for arc in arcs]


def test_bows_are_seen_from_where_the_plate_lies() -> None:
    """A bow is hollow on the side away from its top: apex dorsal and radial in the radius (pubmed 32146042), anterior
    in the femur (PMC6177158) and in the medial part of the clavicle (Bachoura 2013).
    """
    radius, femur, clavicle = (CATALOGUE.bones[name] for name in ("radius", "femur", "clavicle"))
    front, back, outer = (facing(radius, at, "right") for at in ("anterior", "posterior", "lateral"))
    assert radii(front.under) == [885]  # hollow in front
    assert radii(back.under) == [-885]
    assert radii(outer.under) == [-561]
    assert radii(front.across) == [561]  # with medial on top, the ends turn to it
    assert radii(back.across) == [-561]  # with lateral on top, away from it
    assert radii(outer.across) == [885]  # with anterior on top, the ends turn to the front
    assert radii(facing(femur, "lateral", "right").under) == []
    assert radii(facing(femur, "lateral", "right").across) == [-943]
    assert radii(facing(clavicle, "superior", "left").under) == []
    assert radii(facing(clavicle, "superior", "left").across) == [66, -34]
    assert radii(facing(clavicle, "anterior", "left").under) == [-66, 34]


def test_a_surface_that_shows_more_of_a_line_than_there_is_room_for_is_not_offered_and_a_stored_one_opens() -> None:
    """Plane geometry: a line of 75° runs d·tan 75° along the shaft, and the fibula is wider than it is deep."""
    blank = blank_case("Fibula", "fibula", KNOWLEDGE)
    length = CATALOGUE.bones["fibula"].length_mm
    steep = FractureLine(position_mm=round(length - 37, 1), obliquity_deg=75)
    fracture = Fracture(lines=(steep,))
    (old,) = blank.constructs
    case = blank.model_copy(update={"constructs": (old.model_copy(update={"fracture": fracture}),)})
    assert check_case(case, CATALOGUE) == ()
    edit = SetSurface(surface="posterior")
    assert "runs off the bone" in refusal(case, edit, KNOWLEDGE)
    (one,) = assess_stored(apply(case, edit), KNOWLEDGE).constructs
    assert one.layout.facing.surface == "lateral"
    (told,) = [warning for warning in one.warnings if warning.rule == "in-stock"]
    assert "on the lateral surface" in told.message
