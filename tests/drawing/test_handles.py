"""Every interactive part has a role, a name and an edit that the case understands."""

import json
from xml.etree.ElementTree import Element

import pytest

from app.case import Case, apply, parse_edit
from app.case.models import Construct
from app.drawing import draw_sketch
from app.geometry import check_case, ranges
from tests.drawing.constructs import CATALOGUE, SOME, assessed, by_id, construct, every_role, handles, parsed

EACH = pytest.mark.parametrize("drawn", SOME.values(), ids=SOME.keys())


@EACH
def test_every_handle_has_role_name_and_place_in_the_tab_order(drawn: Construct) -> None:
    found = list(handles(parsed(draw_sketch(assessed(drawn)))))
    assert len(found) >= drawn.plate.holes + 2
    for handle in found:
        assert handle.get("id")
        assert handle.get("role") in {"button", "slider"}
        assert handle.get("aria-label")
    # One tab stop for all holes; every grip is one, but for those at screws in holes, which their holes lead to.
    assert [hole.get("id") for hole in found if hole.get("data-hole") and hole.get("tabindex") == "0"] == ["hole-1"]
    grips = {handle.get("id", ""): handle.get("tabindex") for handle in found if handle.get("role") == "slider"}
    assert grips == {name: "-1" if name.startswith("tilt-h") else "0" for name in grips}


def sliders(root: Element) -> list[Element]:
    found = [handle for handle in handles(root) if handle.get("role") == "slider"]
    assert found, "every construct has a plate and a fracture to drag"
    return found


@EACH
def test_sliders_say_range_and_value(drawn: Construct) -> None:
    for handle in sliders(parsed(draw_sketch(assessed(drawn)))):
        low, now, high = (float(handle.attrib[f"aria-value{name}"]) for name in ("min", "now", "max"))
        assert low <= now <= high, handle.get("id")
        assert [handle.get(f"data-{name}") for name in ("min", "value", "max")] == [
            handle.get(f"aria-value{name}") for name in ("min", "now", "max")
        ]
        unit = " mm" if handle.get("data-drag") == "shift" else " degrees"
        assert (handle.get("aria-valuetext") or "").endswith(unit)


@EACH
def test_the_edit_of_a_slider_sets_its_value(drawn: Construct) -> None:
    case = Case(format="fishplate-case/2", title="Sliders", constructs=(construct(), drawn))
    for handle in sliders(parsed(draw_sketch(assessed(drawn, target=1)))):
        document = json.loads(handle.attrib["data-edit"])
        edit = parse_edit({**document, handle.attrib["data-field"]: float(handle.attrib["data-value"])})
        assert edit.target == 1
        after = apply(case, edit)
        # The slider stands where the case does: setting its own value changes nothing but the last decimals.
        assert not check_case(after, CATALOGUE)
        assert _close(after.constructs[1].model_dump(), drawn.model_dump()), handle.get("id")


def _close(one: object, other: object) -> bool:
    if isinstance(one, dict) and isinstance(other, dict):
        return one.keys() == other.keys() and all(_close(one[key], other[key]) for key in one)
    if isinstance(one, list | tuple) and isinstance(other, list | tuple):
        return len(one) == len(other) and all(map(_close, one, other))
    if isinstance(one, float) and isinstance(other, float):
        return abs(one - other) < 0.01
    return one == other


def test_ranges_are_those_of_geometry() -> None:
    one = assessed(SOME["segmental"])
    root = parsed(draw_sketch(one))
    room = ranges(one.construct, one.layout.shape, one.layout.series)
    for name, (low, high) in {"line-0": room.lines[0], "zone-1": room.zones[1], "plate": room.plate_centre}.items():
        handle = by_id(root, name)
        assert float(handle.attrib["data-min"]) == pytest.approx(low, abs=0.01)
        assert float(handle.attrib["data-max"]) == pytest.approx(high, abs=0.01)


def test_what_can_be_dragged_is_there() -> None:
    root = parsed(draw_sketch(assessed(SOME["separate lag screws"])))
    drags = {handle.get("id"): handle.get("data-drag") for handle in handles(root) if handle.get("role") == "slider"}
    assert drags == {
        "plate": "shift",
        "line-0": "shift",
        "lean-0": "lean",
        "turn-0": "lean",
        "zone-0": "shift",
        "screw-s1": "shift",
        "screw-s2": "shift",
        "tilt-s1": "lean",
        "tilt-s2": "lean",
        "tilt-h1": "lean",
        "tilt-h8": "lean",
    }
    assert by_id(root, "zone-0").get("data-gain") == "2"
    assert by_id(root, "lean-0").get("data-lean") == "up"
    assert by_id(root, "tilt-s1").get("data-lean") == "down"


@pytest.mark.parametrize("series", sorted(CATALOGUE.series))
def test_holes_cycle_through_every_role_and_back(series: str) -> None:
    made = CATALOGUE.series[series]
    roles = made.roles()
    count = next(n for n in made.holes_made if n >= len(roles))
    root = parsed(draw_sketch(assessed(construct("femur", series, count, every_role(series, count)))))
    following = {}
    for n in range(1, count + 1):
        hole = by_id(root, f"hole-{n}")
        assert hole.attrib["data-hole"] == str(n - 1)
        assert json.loads(hole.attrib["data-edit"]) == {"op": "set_role", "target": 0, "hole": n - 1}
        assert hole.attrib["data-field"] == "role"
        assert hole.attrib["data-roles"].split() == list(roles)
        following[hole.attrib["data-role"]] = hole.attrib["data-next"]
        before = roles[(roles.index(hole.attrib["data-role"]) - 1) % len(roles)]
        assert hole.attrib["data-prev"] == before
    assert set(following) == set(roles) == set(following.values())


def test_a_role_that_the_plate_cannot_take_leads_back_to_empty() -> None:
    drawn = construct("fibula", "third-tubular-3.5", 8, {2: "locking-2"})
    hole = by_id(parsed(draw_sketch(assessed(drawn))), "hole-2")
    assert hole.get("data-next") == "empty"
    assert hole.get("data-role") == "locking-2"


def test_a_hole_says_what_it_is() -> None:
    root = parsed(draw_sketch(assessed(SOME["oblique, lag through the plate"])))
    assert by_id(root, "hole-3").get("aria-label") == (
        "Hole 3, neutral screw, proximal fragment, 2 cortices. Activate for eccentric screw"
    )
    assert (by_id(root, "hole-4").get("aria-label") or "").startswith("Hole 4, lag screw, over the fracture, 1 cortex.")


@EACH
def test_nothing_answers_when_not_interactive(drawn: Construct) -> None:
    root = parsed(draw_sketch(assessed(drawn), interactive=False))
    assert root.get("role") == "img"
    assert not list(handles(root))
    for element in root.iter():
        assert not {"tabindex", "data-edit", "data-drag", "data-hole"} & set(element.attrib)


def test_screws_in_the_profile_click_like_their_hole_but_take_no_focus() -> None:
    root = parsed(draw_sketch(assessed(SOME["mini plate"])))
    for n in range(1, 9):
        screw = by_id(root, f"screw-h{n}")
        assert screw.get("data-hole") == str(n - 1)
        assert screw.get("aria-hidden") == "true"
        assert screw.get("tabindex") is None
