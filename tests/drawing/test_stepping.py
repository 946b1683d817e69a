"""A step's drawing against the figures it is drawn from: what moves, by how much, and which screws are in."""

import math
import re
from xml.etree.ElementTree import Element

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from app.assess import ConstructAssessment
from app.case.models import Case, Construct
from app.drawing import Theme, View, draw_sketch, draw_state
from app.order import Offset, State, states
from tests.drawing.constructs import SVG, parsed
from tests.drawing.test_random import assessment
from tests.order.constructs import bridged_ulna, oblique_radius, transverse
from tests.sheet.pages import assessed
from tests.strategies import cases

WAY = re.compile(r"translate\((-?[\d.]+) (-?[\d.]+)\)rotate\((-?[\d.]+) (-?[\d.]+) (-?[\d.]+)\)")
POINT = re.compile(r"[ML](-?[\d.]+),(-?[\d.]+)")


def with_standoff(construct: Construct, order: tuple[str, ...]) -> Construct:
    plate = construct.plate.model_copy(update={"standoff_mm": 2.0})
    return construct.model_copy(update={"plate": plate, "order": order})


CONSTRUCTS = {
    "gap closes": oblique_radius(gap_mm=1),
    "fragment slides": oblique_radius(roles="N.ELN..N"),
    "near cortex held open": transverse("tibia", gap_mm=1),
    "plate turns": with_standoff(bridged_ulna(), ("h1", "h3", "h11", "h9")),
    "one fragment drawn up": with_standoff(bridged_ulna(roles="2.2.....N.N"), ("h1", "h3", "h9", "h11")),
}
EACH = pytest.mark.parametrize("construct", CONSTRUCTS.values(), ids=CONSTRUCTS.keys())


def drawn(one: ConstructAssessment, state: State, times: float = 1.0) -> dict[str, Element]:
    root = parsed(draw_state(one, state, times=times))
    ids = [element.get("id") for element in root.iter() if element.get("id")]
    assert len(ids) == len(set(ids))
    return {element.get("id", ""): element for element in root.iter() if element.get("id")}


def way(parts: dict[str, Element], fragment: str) -> list[float]:
    found = WAY.fullmatch(parts[f"moved-{fragment}"].get("transform", ""))
    assert found is not None
    return [float(number) for number in found.groups()]


@EACH
def test_fragments_lie_where_the_figures_say(construct: Construct) -> None:
    one = assessed(construct).constructs[0]
    found = states(one.layout)
    for state in found:
        parts = drawn(one, state)
        for offset in state.offsets:
            ds, down, clockwise, *_ = way(parts, offset.fragment)
            assert (ds, -down) == pytest.approx((offset.ds_mm, offset.dy_mm), abs=0.006)
            assert -clockwise == pytest.approx(offset.rotation_deg, abs=0.0001)
            above = parts[f"above-{offset.fragment}"].get("transform", "")
            assert float(above.removeprefix("translate(").split()[0]) == pytest.approx(offset.ds_mm, abs=0.006)


@EACH
def test_only_the_screws_put_in_so_far_are_drawn(construct: Construct) -> None:
    one = assessed(construct).constructs[0]
    for state in states(one.layout):
        parts = drawn(one, state)
        shown = {name.removeprefix("screw-") for name in parts if name.startswith("screw-")}
        assert shown == set(state.screws)
        assert ("plate" in parts) == (state.step > 1)  # nothing but the reduction comes before the plate here


def test_every_consequence_is_among_the_constructs() -> None:
    last = {name: states(assessed(one).constructs[0].layout)[-1] for name, one in CONSTRUCTS.items()}
    turned = states(assessed(CONSTRUCTS["plate turns"]).constructs[0].layout)
    assert last["gap closes"].lines[0].closed_mm == pytest.approx(1)
    assert last["fragment slides"].slide_mm > 0.4
    assert any(offset.rotation_deg for offset in last["near cortex held open"].offsets)
    assert max(state.plate_turn_deg for state in turned) > 2
    assert any(offset.dy_mm > 1 for offset in last["one fragment drawn up"].offsets)


def test_a_closed_gap_is_closed_in_the_drawing() -> None:
    """The two faces, moved as drawn, meet; enlarged five times they still do."""
    one = assessed(CONSTRUCTS["gap closes"]).constructs[0]
    for times in (1.0, 5.0):
        parts = drawn(one, states(one.layout)[-1], times)
        line = one.layout.fracture.lines[0]
        faces = {"proximal": line.proximal_face(0), "distal": line.distal_face(0)}
        at = {name: s + way(parts, name)[0] for name, s in faces.items()}
        assert at["proximal"] == pytest.approx(at["distal"], abs=0.02)
    before = drawn(one, states(one.layout)[0], 5.0)
    gap = faces["distal"] + way(before, "distal")[0] - faces["proximal"] - way(before, "proximal")[0]
    assert gap == pytest.approx(5.0, abs=0.02)


def test_a_slide_keeps_to_the_fracture_line() -> None:
    """Along the line: ds ÷ dy is the tangent of the obliquity, 40°, at any enlargement. Plane geometry."""
    one = assessed(CONSTRUCTS["fragment slides"]).constructs[0]
    for times in (1.0, 5.0):
        ds, down, *_ = way(drawn(one, states(one.layout)[-1], times), "proximal")
        assert abs(ds / down) == pytest.approx(math.tan(math.radians(40)), rel=0.02)
        assert down > 0  # away from the plate
        assert math.hypot(ds, down) == pytest.approx(times * states(one.layout)[-1].slide_mm, abs=0.02)


def test_the_plate_turns_in_the_face_view_about_its_only_screw() -> None:
    one = assessed(CONSTRUCTS["plate turns"]).constructs[0]
    state = next(state for state in states(one.layout) if state.plate_turn_deg)
    turn = drawn(one, state)["turned-plate"].get("transform", "")
    degrees, about, _ = (float(part) for part in turn.removeprefix("rotate(").rstrip(")").split())
    assert degrees == pytest.approx(state.plate_turn_deg, abs=0.01)
    assert state.turns_about == "h1"
    assert about == pytest.approx(one.layout.screw("h1").head[0], abs=0.01)


def _underside(parts: dict[str, Element]) -> float:
    """Lowest point of the plate's outline in the drawing."""
    outline = parts["plate"].find(f"{SVG}path")
    assert outline is not None
    return max(float(y) for _, y in POINT.findall(outline.get("d", "")))


def test_the_plate_is_drawn_down_to_the_bone() -> None:
    """A cortex screw first: the stand-off of 2 mm is gone in the drawing too."""
    construct = with_standoff(bridged_ulna(roles="N.N.....2.2"), ("h1", "h3", "h9", "h11"))
    one = assessed(construct).constructs[0]
    found = states(one.layout)
    held = next(state for state in found if not state.screws and state.step > 1)
    first = next(state for state in found if state.screws == ("h1",))
    assert (held.plate_gap_mm, first.plate_gap_mm) == (2.0, 0.0)
    assert _underside(drawn(one, first)) - _underside(drawn(one, held)) == pytest.approx(2.0, abs=0.02)


def test_what_is_drawn_larger_says_so_and_what_is_not_does_not() -> None:
    one = assessed(CONSTRUCTS["fragment slides"]).constructs[0]
    state = states(one.layout)[-1]
    assert "drawn 5 times as large" in draw_state(one, state, times=5)
    assert "times as large" not in draw_state(one, state)


def test_it_takes_the_sketchs_place_without_a_jump() -> None:
    one = assessed(CONSTRUCTS["gap closes"]).constructs[0]
    sketch = parsed(draw_sketch(one))
    step = parsed(draw_state(one, states(one.layout)[2]))
    for name in ("viewBox", "data-view", "font-size", "id"):
        assert step.get(name) == sketch.get(name)
    assert step.get("role") == "img"
    assert states(one.layout)[2].sentence in (step.get("aria-label") or "")


def test_only_what_has_moved_leaves_its_outline() -> None:
    one = assessed(CONSTRUCTS["gap closes"]).constructs[0]
    for state in states(one.layout):
        for times in (1.0, 5.0):
            left = drawn(one, state, times).get("planned")
            has_moved = [o for o in state.offsets if o.ds_mm or o.dy_mm or o.rotation_deg]
            assert (0 if left is None else len(left)) == len(has_moved)


@settings(max_examples=40, deadline=None, suppress_health_check=list(HealthCheck))
@given(case=cases(), times=st.sampled_from([1.0, 5.0]), start=st.floats(-50, 400), width=st.floats(20, 600))
def test_every_step_of_any_case_can_be_drawn(case: Case, times: float, start: float, width: float) -> None:
    for one in assessment(case).constructs:
        for state in states(one.layout):
            text = draw_state(one, state, view=View(start, start + width + 0.1), times=times)
            assert not re.search(r"\b(nan|inf)\b", text)
            ids = [element.get("id") for element in parsed(text).iter() if element.get("id")]
            assert len(ids) == len(set(ids))


@pytest.mark.parametrize("theme", ["light", "dark", "print"])
def test_it_stands_alone(theme: Theme) -> None:
    one = assessed(CONSTRUCTS["near cortex held open"]).constructs[0]
    text = draw_state(one, states(one.layout)[-1], theme=theme)
    assert "var(" not in text
    assert parsed(text).find(f"{SVG}title") is not None


def test_offsets_and_motions_are_the_same_thing() -> None:
    """A corner moved by hand as ``Offset`` tells it lies where the drawing's transform puts it."""
    one = assessed(CONSTRUCTS["near cortex held open"]).constructs[0]
    state = states(one.layout)[-1]
    offset: Offset = next(o for o in state.offsets if o.rotation_deg)
    parts = drawn(one, state)
    ds, down, clockwise, x, y = way(parts, offset.fragment)
    angle = math.radians(offset.rotation_deg)
    corner = (offset.pivot[0] + 10.0, offset.pivot[1] + 4.0)
    byhand = (
        offset.pivot[0] + 10 * math.cos(angle) - 4 * math.sin(angle) + offset.ds_mm,
        offset.pivot[1] + 10 * math.sin(angle) + 4 * math.cos(angle) + offset.dy_mm,
    )
    up = y + offset.pivot[1]  # drawing height of the axis: y runs down there
    turn = math.radians(clockwise)
    u, v = corner[0] - x, (up - corner[1]) - y
    there = x + u * math.cos(turn) - v * math.sin(turn) + ds, y + u * math.sin(turn) + v * math.cos(turn) + down
    assert (there[0], up - there[1]) == pytest.approx(byhand, abs=0.02)
