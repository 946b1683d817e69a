"""Surfaces and edges are named where they are, whatever the side; left and right are mirror images of one drawing."""

import re
from xml.etree.ElementTree import Element

import pytest
from hypothesis import HealthCheck, given, settings

from app.assess import ConstructAssessment, assess, load_knowledge
from app.case import Case, apply
from app.case.edits import SetSide, SetSurface, Together
from app.case.models import BONES, SURFACES, BodySide, BoneName, Surface
from app.document import as_document
from app.drawing import Room, draw_sketch, draw_state
from app.drawing.scale import TEXT_U
from app.geometry.facing import facing
from app.order import states
from app.suggest import blank_case, suggestions
from tests.drawing.constructs import SVG, by_id, parsed
from tests.drawing.test_placement import assert_clear
from tests.strategies import cases

KNOWLEDGE = load_knowledge()
ALL = [(bone, surface) for bone in BONES for surface in SURFACES[bone]]
# Places for the drawing on pages 1440, 1024 and 390 px wide, as tests/browser finds them.
ROOMS = [Room(860, 640), Room(620, 560), Room(374, 420)]


def laid_out(bone: BoneName, surface: Surface, side: BodySide | None) -> ConstructAssessment:
    """The first suggested layout of a bone's usual fracture, under a plate on this surface."""
    case = apply(blank_case(bone, bone, KNOWLEDGE), SetSurface(surface=surface))
    case = apply(apply(case, SetSide(side=side)), suggestions(case, 0, KNOWLEDGE)[0].edit)
    return assess(apply(case, SetSide(side=side)), KNOWLEDGE, mechanics=False).constructs[0]


def words(root: Element, name: str) -> list[tuple[str, float]]:
    """The words of one view with their heights, from top to bottom."""
    found = [(text.text or "", float(text.attrib["y"])) for text in by_id(root, name).iter(f"{SVG}text")]
    return sorted(found, key=lambda one: one[1])


def middle(root: Element, name: str) -> float:
    """The height of the axis of a part, from its first outline."""
    outline = next(by_id(root, name).iter(f"{SVG}path")).attrib["d"]
    ys = [float(y) for y in re.findall(r",(-?[\d.]+)", outline)]
    return (min(ys) + max(ys)) / 2


@pytest.mark.parametrize("side", [None, "left", "right"])
@pytest.mark.parametrize(("bone", "surface"), ALL)
def test_every_surface_and_edge_is_named_on_its_own_side_of_the_bone(
    bone: BoneName, surface: Surface, side: BodySide | None
) -> None:
    """Which edge is where: tests/geometry/test_facing.py. The demand that all four are there is our own."""
    one = laid_out(bone, surface, side)
    seen = facing(KNOWLEDGE.catalogue.bones[bone], surface, side)
    tail = "" if side else " if right"
    for room in ROOMS:
        for interactive in (True, False):
            svg = draw_sketch(one, interactive=interactive, charted=False, bold=room)
            root = parsed(svg)
            (near, above), (far, below) = words(root, "surfaces")
            assert (near, far) == (surface, seen.far)
            assert above < middle(root, "bone") < below
            (top, above), (bottom, below) = words(root, "edges")
            assert (top, bottom) == (seen.top + tail, seen.bottom + tail)
            assert above < middle(root, "bone-face") < below
            assert_clear(svg)


@pytest.mark.parametrize(("bone", "surface"), ALL)
def test_the_steps_of_the_operation_name_them_too(bone: BoneName, surface: Surface) -> None:
    one = laid_out(bone, surface, "left")
    for state in states(one.layout)[:2]:
        root = parsed(draw_state(one, state))
        assert [len(words(root, name)) for name in ("surfaces", "edges")] == [2, 2]


def of_side(case: Case, side: BodySide | None) -> Case:
    edits = tuple(SetSide(target=target, side=side) for target in range(len(case.constructs)))
    return apply(case, Together(edits=edits))


@settings(max_examples=25, deadline=None, suppress_health_check=list(HealthCheck))
@given(cases())
def test_left_and_right_give_the_same_figures_and_warnings(case: Case) -> None:
    """A mirror image: nothing that is measured or judged tells left from right."""
    left, right, none = (as_document(assess(of_side(case, side), KNOWLEDGE)) for side in ("left", "right", None))
    assert left == right == none


@settings(max_examples=25, deadline=None, suppress_health_check=list(HealthCheck))
@given(cases())
def test_left_and_right_differ_in_the_names_of_the_edges_alone(case: Case) -> None:
    def drawn(side: BodySide) -> tuple[str, list[str]]:
        svg = draw_sketch(assess(of_side(case, side), KNOWLEDGE, mechanics=False).constructs[0])
        edges = re.search(r'<g id="edges".*?</g>', svg)
        assert edges is not None
        return svg.replace(edges[0], "").replace(side.capitalize(), ""), re.findall(r">(\w+)</text>", edges[0])

    (left, left_words), (right, right_words) = drawn("left"), drawn("right")
    assert re.sub(r'data-edit="[^"]*"', "", left) == re.sub(r'data-edit="[^"]*"', "", right)
    assert sorted(left_words) == sorted(right_words)
    if len(left_words) == 2:
        assert left_words == right_words[::-1]


def test_words_are_as_small_as_all_others() -> None:
    root = parsed(draw_sketch(laid_out("radius", "lateral", "left"), charted=False))
    unit = float(root.attrib["font-size"]) / TEXT_U
    assert unit > 0
    for name in ("surfaces", "edges"):
        texts = list(by_id(root, name).iter(f"{SVG}text"))
        assert [text.get("font-size") for text in texts] == [None, None]
        assert all("soft" in (text.get("class") or "") for text in texts)
