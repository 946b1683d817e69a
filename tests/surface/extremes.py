"""Edits at the limits of what is accepted: every kind, values at the ends of their ranges, tiny, huge and in between.

A case drawn here has been walked to: from a blank case, through edits that the document and the catalogue accept. So
it is as odd as a hand can make it, and never one that the program would refuse.
"""

import math
from typing import Any

from hypothesis import strategies as st

from app.assess import Knowledge, load_knowledge
from app.case import Case, InvalidCase, apply, parse_edit
from app.case.codes import ALL_CODES
from app.case.models import BONES, ROLES, Construct
from app.geometry import check_case, lay_out, plate_length, ranges
from app.rules import all_rules
from app.suggest import blank_case

KNOWLEDGE = load_knowledge()
CATALOGUE = KNOWLEDGE.catalogue
TINY = (5e-324, 1e-300, 1e-12, 1e-6)
EditDocument = dict[str, Any]


def between(low: float, high: float) -> st.SearchStrategy[float]:
    """Numbers of a range: both ends, their neighbours, tiny ones where the range holds them, round ones, any."""
    low, high = min(low, high), max(low, high)
    ends = [low, high, math.nextafter(low, high), math.nextafter(high, low), (low + high) / 2]
    inside = [value for value in (0.0, *TINY, *(-value for value in TINY)) if low <= value <= high]
    return st.one_of(
        st.sampled_from([*ends, *inside]),
        st.floats(low, high, allow_nan=False),
        st.floats(low, high, allow_nan=False).map(lambda x: min(high, max(low, round(x)))),
    )


def _whole(case: Case) -> list[st.SearchStrategy[EditDocument]]:
    bones = st.sampled_from(BONES).map(lambda bone: blank_case("x", bone, KNOWLEDGE).constructs[0])
    title = st.sampled_from(
        ["x", "W" * 120, "מקרה 1", "\u200dx", "x" + "\u0301" * 119, "a" * 60 + " " + "b" * 59, "&amp;\"'`{{}}"]
    )
    return [
        st.fixed_dictionaries({"op": st.just("set_title"), "title": title}),
        st.fixed_dictionaries({"op": st.just("set_note"), "note": st.sampled_from(["", "n" * 4000, "a\n\tb"])}),
        st.fixed_dictionaries(
            {"op": st.just("set_quality"), "bone_quality": st.sampled_from(["normal", "reduced", "poor"])}
        ),
        st.fixed_dictionaries({"op": st.just("add_construct"), "value": bones.map(_dumped)}),
        st.fixed_dictionaries(
            {
                "op": st.just("acknowledge"),
                "rule": st.sampled_from([*(rule.id for rule in all_rules()), "z" * 40]),
                "subject": st.sampled_from([None, "plate", "h1", " ".join(["z" * 40] * 40)]),
                "target": st.none() | st.integers(0, len(case.constructs) - 1),
                "put_away": st.booleans(),
            }
        ),
        st.fixed_dictionaries({"op": st.just("remove_construct"), "target": st.integers(0, len(case.constructs) - 1)}),
        st.fixed_dictionaries({"op": st.just("add_construct"), "value": st.sampled_from(case.constructs).map(_dumped)}),
    ]


def _dumped(construct: Construct) -> EditDocument:
    return construct.model_dump(mode="json")


def _line(construct: Construct, case: Case) -> list[dict[str, st.SearchStrategy[Any]]]:
    spec = CATALOGUE.bones[construct.bone.name]
    layout = lay_out(construct, case.bone_quality, CATALOGUE, KNOWLEDGE.allowances)
    room = ranges(construct, layout.shape, layout.series)
    length = layout.shape.length_mm
    found: list[dict[str, st.SearchStrategy[Any]]] = []
    for i in range(len(construct.fracture.lines)):
        here = {"line": st.just(i)}
        found += [
            {"op": st.just("move_fracture"), **here, "position_mm": between(*room.lines[i])},
            {"op": st.just("set_obliquity"), **here, "obliquity_deg": between(-75, 75)},
            {"op": st.just("set_spiral"), **here, "spiral": st.sampled_from([None, "left", "right"])},
            {"op": st.just("set_zone"), **here, "zone_mm": between(*room.zones[i])},
            {"op": st.just("remove_line"), **here},
        ]
    at = between(5, length - 5)
    value = st.fixed_dictionaries(
        {"position_mm": at, "obliquity_deg": between(-75, 75), "zone_mm": st.just(0.0) | between(0, 250)}
    )
    wedge = st.fixed_dictionaries(
        {
            "side": st.sampled_from(["near", "far"]),
            "length_mm": between(5, 120),
            "line": st.integers(0, len(construct.fracture.lines) - 1),
        }
    )
    codes = st.sampled_from([None, *(code for code in ALL_CODES if ALL_CODES[code].bone == spec.name), *ALL_CODES])
    sizes = {"length_mm": spec.length_range_mm, "midshaft_depth_mm": spec.depth_range_mm}
    bone = st.fixed_dictionaries(
        {"name": st.just(spec.name), **{name: st.none() | between(*span) for name, span in sizes.items()}}
    )
    return [
        *found,
        {"op": st.just("add_line"), "value": value},
        {"op": st.just("set_wedge"), "wedge": st.none() | wedge},
        {"op": st.just("set_gap"), "gap_mm": between(0, 20)},
        {"op": st.just("set_code"), "code": codes},
        {"op": st.just("set_bone"), "bone": bone},
        {"op": st.just("set_bone"), "bone": st.sampled_from(BONES).map(lambda name: {"name": name})},
    ]


def _plate(construct: Construct, case: Case) -> list[dict[str, st.SearchStrategy[Any]]]:
    layout = lay_out(construct, case.bone_quality, CATALOGUE, KNOWLEDGE.allowances)
    room = ranges(construct, layout.shape, layout.series)
    length = layout.shape.length_mm
    fits = [
        (series.key, holes)
        for series in CATALOGUE.series.values()
        for holes in series.holes_made
        if plate_length(series, holes) <= length
    ]
    plate = st.sampled_from(fits).flatmap(
        lambda kind: st.fixed_dictionaries(
            {
                "op": st.just("set_plate"),
                "series": st.just(kind[0]),
                "holes": st.just(kind[1]),
                "centre_mm": between(
                    plate_length(CATALOGUE.series[kind[0]], kind[1]) / 2,
                    length - plate_length(CATALOGUE.series[kind[0]], kind[1]) / 2,
                ),
            }
        )
    )
    return [
        {"op": st.just("move_plate"), "centre_mm": between(*room.plate_centre)},
        {"op": st.just("set_standoff"), "standoff_mm": between(0, 20)},
        {"op": st.just("set_prebend"), "prebend_mm": between(0, 10)},
        {"op": st.just("set_principle"), "principle": st.sampled_from(["compression", "protection", "bridging"])},
        *[{"whole": plate}] * 2,
    ]


def _screws(construct: Construct, case: Case) -> list[dict[str, st.SearchStrategy[Any]]]:
    layout = lay_out(construct, case.bone_quality, CATALOGUE, KNOWLEDGE.allowances)
    length = layout.shape.length_mm
    hole = st.integers(0, len(construct.holes) - 1)
    cortex = st.sampled_from([key for key, screw in CATALOGUE.screws.items() if screw.kind == "cortex"])
    lag = {"position_mm": between(5, length - 5), "tilt_deg": between(-75, 75), "screw": cortex}
    found: list[dict[str, st.SearchStrategy[Any]]] = [
        {"op": st.just("set_role"), "hole": hole, "role": st.sampled_from(ROLES), "tilt_deg": between(-45, 45)},
        {"op": st.just("set_role"), "hole": hole, "role": st.sampled_from(ROLES)},
        {"op": st.just("set_tilt"), "hole": hole, "tilt_deg": between(-45, 45)},
        {"op": st.just("add_lag"), "value": st.fixed_dictionaries(lag)},
        {
            "op": st.just("set_order"),
            "order": st.none() | st.permutations(construct.screw_ids).map(list),
        },
    ]
    for i in range(len(construct.lag_screws)):
        found += [
            {"op": st.just("remove_lag"), "lag": st.just(i)},
            {"op": st.just("set_lag"), "lag": st.just(i), **lag},
        ]
    return found


@st.composite
def _filled(draw: st.DrawFn, construct: Construct, target: int) -> EditDocument:
    """All holes at once, as a hand that taps along the plate."""
    roles = [draw(st.sampled_from(ROLES)) for _ in construct.holes] if draw(st.booleans()) else None
    one = draw(st.sampled_from(ROLES))
    edits = [
        {"op": "set_role", "target": target, "hole": hole, "role": roles[hole] if roles else one}
        for hole in range(len(construct.holes))
    ]
    return {"op": "together", "label": draw(st.sampled_from(["", "Fill the plate"])), "edits": edits}


def extreme_edits(case: Case) -> st.SearchStrategy[EditDocument]:
    """An edit of any kind that fits the case, at the limits of what it may set."""

    def of(target: int) -> st.SearchStrategy[EditDocument]:
        construct = case.constructs[target]
        kinds = [*_line(construct, case), *_plate(construct, case), *_screws(construct, case)]
        made = [
            kind["whole"].map(lambda edit: {**edit, "target": target})
            if "whole" in kind
            else st.fixed_dictionaries({"target": st.just(target), **kind})
            for kind in kinds
        ]
        return st.one_of(*made, *[_filled(construct, target)] * 3)

    inside = st.integers(0, len(case.constructs) - 1).flatmap(of)
    return st.one_of(inside, inside, inside, *_whole(case)) if len(case.constructs) < 3 else inside


def accepted(case: Case, edit: EditDocument, knowledge: Knowledge = KNOWLEDGE) -> Case | None:
    """The case after an edit; None where the program would refuse it."""
    try:
        after = apply(case, parse_edit(edit))
    except InvalidCase:
        return None
    return None if check_case(after, knowledge.catalogue) else after


@st.composite
def extreme_cases(draw: st.DrawFn, most: int = 10) -> Case:
    """A case that a hand might have led to its limits."""
    case = blank_case("Walked", draw(st.sampled_from(BONES)), KNOWLEDGE)
    for _ in range(draw(st.integers(0, most))):
        case = accepted(case, draw(extreme_edits(case))) or case
    return case
