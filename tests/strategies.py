"""Random but valid cases and edits, for property tests. Everything drawn here passes ``check_case``."""

from typing import get_args

from hypothesis import assume
from hypothesis import strategies as st

from app.case.models import (
    BONES,
    ROLES,
    SURFACES,
    Bone,
    Case,
    Construct,
    Fracture,
    FractureLine,
    Hole,
    LagScrew,
    Plate,
    Surface,
    Wedge,
)
from app.catalogue import Catalogue, load_catalogue
from app.geometry import check_case, plate_length

CATALOGUE = load_catalogue()
OTHER_HAND: dict[str | None, str | None] = {None: None, "left": "right", "right": "left"}  # of what a mirror shows


def _within(low: float, high: float) -> st.SearchStrategy[float]:
    return st.floats(low, high, allow_nan=False).map(lambda x: round(x, 1))


@st.composite
def constructs(draw: st.DrawFn, catalogue: Catalogue = CATALOGUE) -> Construct:
    """A construct anywhere in what may be drawn: sensible and silly ones alike."""
    bone = draw(st.sampled_from([name for name in sorted(BONES) if name in catalogue.bones]))
    spec = catalogue.bones[bone]
    length = spec.length_mm
    series = catalogue.series[draw(st.sampled_from(sorted(catalogue.series)))]
    count = draw(st.sampled_from([n for n in series.holes_made if plate_length(series, n) < length - 4]))
    half = plate_length(series, count) / 2
    holes = draw(st.lists(st.tuples(st.sampled_from(ROLES), _within(-25, 25)), min_size=count, max_size=count))
    lines = draw(st.lists(_lines(length), min_size=1, max_size=2))
    lines.sort(key=lambda line: line.position_mm)
    wedge = draw(st.none() | st.builds(Wedge, side=st.sampled_from(["near", "far"]), length_mm=_within(5, 40)))
    turned = st.just(0.0) | _within(-180, 180)
    lags = st.builds(LagScrew, position_mm=_within(20, length - 20), tilt_deg=_within(-60, 60), turn_deg=turned)
    try:
        return Construct(
            bone=Bone(name=bone, side=draw(st.sampled_from([None, "left", "right"]))),
            fracture=Fracture(lines=tuple(lines), gap_mm=draw(st.just(0.0) | _within(0, 5)), wedge=wedge),
            principle=draw(st.sampled_from(["compression", "protection", "bridging"])),
            plate=Plate(
                series=series.key,
                holes=count,
                centre_mm=draw(st.floats(half, length - half)),
                standoff_mm=draw(st.just(0.0) | _within(0, 6)),
                prebend_mm=draw(st.just(0.0) | _within(0, 3)),
                surface=draw(st.none() | st.sampled_from(SURFACES[bone])),
            ),
            holes=tuple(Hole(role=role, tilt_deg=tilt) for role, tilt in holes),
            lag_screws=tuple(draw(st.lists(lags, max_size=2))),
        )
    except ValueError:
        assume(False)
        raise


def _lines(length: float) -> st.SearchStrategy[FractureLine]:
    return st.builds(
        FractureLine,
        position_mm=_within(length * 0.3, length * 0.7),
        obliquity_deg=st.just(0.0) | _within(-60, 60),
        turn_deg=st.just(0.0) | _within(-90, 90),
        spiral=st.none() | st.sampled_from(["left", "right"]),
        zone_mm=st.just(0.0) | _within(0, length * 0.15),
    )


@st.composite
def cases(draw: st.DrawFn, catalogue: Catalogue = CATALOGUE) -> Case:
    """A valid case of one or two constructs."""
    case = Case(
        format="fishplate-case/2",
        title="Random",
        bone_quality=draw(st.sampled_from(["normal", "reduced", "poor"])),
        constructs=tuple(draw(st.lists(constructs(catalogue), min_size=1, max_size=2))),
    )
    assume(not check_case(case, catalogue))
    return case


def edits(case: Case) -> st.SearchStrategy[dict[str, object]]:
    """Edit documents that fit the case's shape; their values may still be refused."""
    target = st.integers(0, len(case.constructs) - 1)
    holes = min(construct.plate.holes for construct in case.constructs)
    hole = st.integers(0, holes - 1)
    mm = _within(-20, 400)
    degrees = _within(-80, 80)
    kinds: list[dict[str, st.SearchStrategy[object]]] = [
        {"op": st.just("move_fracture"), "line": st.integers(0, 1), "position_mm": mm},
        {"op": st.just("set_obliquity"), "line": st.integers(0, 1), "obliquity_deg": degrees},
        {"op": st.just("set_turn"), "line": st.integers(0, 1), "turn_deg": _within(-100, 100)},
        {"op": st.just("set_spiral"), "line": st.integers(0, 1), "spiral": st.sampled_from([None, "left", "right"])},
        {
            "op": st.just("lean_fracture"),
            "line": st.integers(0, 1),
            "view": st.sampled_from(["profile", "face"]),
            "angle_deg": degrees,
        },
        {"op": st.just("set_lag"), "lag": st.integers(0, 1), "turn_deg": _within(-200, 200)},
        {"op": st.just("set_zone"), "line": st.integers(0, 1), "zone_mm": _within(0, 60)},
        {"op": st.just("set_gap"), "gap_mm": _within(-1, 25)},
        {"op": st.just("move_plate"), "centre_mm": mm},
        {"op": st.just("set_standoff"), "standoff_mm": _within(0, 25)},
        {"op": st.just("set_prebend"), "prebend_mm": _within(0, 12)},
        {"op": st.just("set_role"), "hole": hole, "role": st.sampled_from(ROLES)},
        {"op": st.just("set_tilt"), "hole": hole, "tilt_deg": degrees},
        {"op": st.just("set_principle"), "principle": st.sampled_from(["compression", "protection", "bridging"])},
        {"op": st.just("set_plate"), "series": st.sampled_from(sorted(CATALOGUE.series)), "holes": st.integers(4, 14)},
        {"op": st.just("set_side"), "side": st.sampled_from([None, "left", "right"])},
        {"op": st.just("set_surface"), "surface": st.none() | st.sampled_from(get_args(Surface))},
        {"op": st.just("set_bone"), "bone": st.fixed_dictionaries({"name": st.sampled_from(sorted(SURFACES))})},
        {"op": st.just("remove_lag"), "lag": st.integers(0, 1)},
        {"op": st.just("remove_line"), "line": st.integers(0, 1)},
        {
            "op": st.just("add_lag"),
            "value": st.fixed_dictionaries({"position_mm": mm, "tilt_deg": degrees, "screw": st.just("cortex-3.5")}),
        },
        {
            "op": st.just("add_line"),
            "value": st.fixed_dictionaries({"position_mm": mm, "obliquity_deg": degrees, "zone_mm": st.just(0.0)}),
        },
        {
            "op": st.just("set_wedge"),
            "wedge": st.none() | st.fixed_dictionaries({"side": st.just("near"), "length_mm": _within(1, 60)}),
        },
    ]
    noted = st.fixed_dictionaries(
        {
            "op": st.just("acknowledge"),
            "rule": st.sampled_from(["structures-at-risk", "privacy", "no-rule-of-ours"]),
            "subject": st.sampled_from([None, "plate", "title", "h1 h2"]),
            "target": st.none() | target,
            "put_away": st.booleans(),
        }
    )
    whole = st.fixed_dictionaries(
        {"op": st.just("set_quality"), "bone_quality": st.sampled_from(["normal", "reduced", "poor"])}
    )
    return st.one_of(whole, noted, *(st.fixed_dictionaries({"target": target, **kind}) for kind in kinds))
