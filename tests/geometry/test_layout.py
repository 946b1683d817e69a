"""Fracture, fragments and screw paths: trigonometry, invariances, and the polygon as an independent witness."""

import math
from dataclasses import replace

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st
from shapely.geometry import LineString, Point, Polygon

from app.case.models import Bone, Construct, Fracture, FractureLine, Hole, LagScrew, Plate, Wedge
from app.catalogue import Catalogue
from app.catalogue.models import BoneSpec, ProfileRow
from app.geometry import Allowances, Layout, lay_out, summarise
from app.geometry.fracture import turned_fracture
from app.geometry.limits import check_case
from app.geometry.profile import turned_shape
from tests.strategies import CATALOGUE, OTHER_HAND, cases, constructs

SLOW = settings(max_examples=80, deadline=None, suppress_health_check=list(HealthCheck))
TUBE = tuple(ProfileRow(f / 4, 20.0, 20.0, 4.0) for f in range(5))


def with_profile(catalogue: Catalogue, name: str, profile: tuple[ProfileRow, ...]) -> Catalogue:
    spec: BoneSpec = replace(catalogue.bones[name], profile=profile)
    return replace(catalogue, bones={**catalogue.bones, name: spec})


STRAIGHT = with_profile(CATALOGUE, "humerus", TUBE)


def tube(
    *,
    obliquity: float = 0.0,
    zone: float = 0.0,
    gap: float = 0.0,
    holes: dict[int, Hole] | None = None,
    lag: LagScrew | None = None,
    wedge: Wedge | None = None,
    standoff: float = 0.0,
) -> Layout:
    """A 20 mm tube with a 4 mm wall, 300 mm long, broken at 150 under the centre of a 9-hole 4.5 plate."""
    placed = holes or {}
    construct = Construct(
        bone=Bone(name="humerus", length_mm=300),
        fracture=Fracture(
            lines=(FractureLine(position_mm=150, obliquity_deg=obliquity, zone_mm=zone),), gap_mm=gap, wedge=wedge
        ),
        principle="compression",
        plate=Plate(series="large-narrow-4.5", holes=9, centre_mm=150, standoff_mm=standoff),
        holes=tuple(placed.get(n, Hole()) for n in range(1, 10)),
        lag_screws=(lag,) if lag else (),
    )
    return lay_out(construct, "normal", STRAIGHT, Allowances())


def test_screw_length_is_seat_gap_and_bone() -> None:
    screw = tube(holes={2: Hole(role="neutral")}, standoff=1.5).screw("h2")
    seat = CATALOGUE.series["large-narrow-4.5"].seat_mm
    assert screw.length_mm == pytest.approx(seat + 1.5 + 20)
    assert screw.stock_length_mm is not None
    assert 0 <= screw.stock_length_mm - screw.length_mm < 2


def test_a_tilted_screw_is_longer_by_the_cosine() -> None:
    """Plane trigonometry: a path at angle t through a slab of thickness h has length h / cos t."""
    screw = tube(lag=LagScrew(position_mm=100, tilt_deg=30, screw="cortex-4.5")).screw("s1")
    assert screw.length_mm == pytest.approx(20 / math.cos(math.radians(30)))
    assert screw.tip[0] - 100 == pytest.approx(20 * math.tan(math.radians(30)))


def test_a_one_cortex_screw_ends_in_the_canal() -> None:
    screw = tube(holes={2: Hole(role="locking-1")}).screw("h2")
    assert [p.cortex for p in screw.passages] == ["near"]
    assert screw.cortices_held == 1


@pytest.mark.parametrize("obliquity", [-60, -45, -20, 20, 45, 60])
def test_a_screw_square_to_the_fracture_has_no_angle_to_its_normal(obliquity: float) -> None:
    tilt = obliquity - 90 if obliquity > 0 else obliquity + 90
    start = 150 - 10 * math.tan(math.radians(tilt))
    screw = tube(obliquity=obliquity, lag=LagScrew(position_mm=start, tilt_deg=max(-75, min(75, tilt))))
    expected = max(0.0, abs(tilt) - 75)
    assert screw.screw("s1").angle_to_normal_deg == pytest.approx(expected, abs=1e-6)


def test_a_lag_holds_only_beyond_its_gliding_hole() -> None:
    layout = tube(obliquity=45, holes={5: Hole(role="lag", tilt_deg=-25)})
    screw = layout.screw("h5")
    assert screw.owners == ("distal", "proximal")
    assert [p.holds for p in screw.passages] == [False, True]
    assert screw.home == "proximal"
    assert screw.angle_to_normal_deg == pytest.approx(20)
    assert screw.meets is not None


def test_a_plain_screw_through_the_line_crosses_the_fracture() -> None:
    layout = tube(obliquity=45, holes={5: Hole(role="neutral")})
    screw = layout.screw("h5")
    assert screw.crosses_fracture
    assert screw.owners == ("distal", "proximal")
    assert screw.clear_of_fracture_mm == 0


def test_a_screw_in_the_zone_holds_nothing() -> None:
    layout = tube(zone=30, holes={5: Hole(role="locking-2")})
    assert layout.screw("h5").home is None
    assert layout.screw("h5").owners == ("zone", "zone")
    assert layout.holes_over_fracture == (4, 5, 6) or 5 in layout.holes_over_fracture


@pytest.mark.parametrize(("side", "expected"), [("near", ("wedge", "distal")), ("far", ("distal", "wedge"))])
def test_a_wedge_owns_its_cortex(side: str, expected: tuple[str, str]) -> None:
    wedge = Wedge(side=side, length_mm=24)
    layout = tube(wedge=wedge, lag=LagScrew(position_mm=154, tilt_deg=0))
    assert layout.screw("s1").owners == expected


def test_below_thirty_degrees_no_corner_is_obtuse() -> None:
    """AO Surgery Reference, humeral shaft: its page on oblique fractures is headed "30 degrees or more"."""
    assert not any(f.obtuse_at_plate for f in tube(obliquity=29.9).fracture.fragments)
    assert any(f.obtuse_at_plate for f in tube(obliquity=30).fracture.fragments)


@SLOW
@given(constructs())
def test_the_obtuse_corner_is_the_polygons(construct: Construct) -> None:
    """The interior angle at the plate, computed from each fragment's own polygon, says who is obtuse."""
    assume(len(construct.fracture.lines) == 1 and abs(construct.fracture.lines[0].obliquity_deg) >= 30)
    layout = lay_out(construct, "normal", STRAIGHT if construct.bone.name == "humerus" else CATALOGUE, Allowances())
    laid = layout.fracture.lines[0]
    assume(abs(laid.obliquity_deg) >= 30)
    half = laid.depth_mm / 2
    for fragment, face, away in ((0, laid.proximal_face, -50.0), (1, laid.distal_face, 50.0)):
        corner, along, down = (face(half), half), (face(half) + away, half), (face(-half), -half)
        angle = _interior(corner, along, down)
        assert layout.fracture.fragments[fragment].obtuse_at_plate == (angle > 90)


def _interior(corner: tuple[float, float], a: tuple[float, float], b: tuple[float, float]) -> float:
    first = math.atan2(a[1] - corner[1], a[0] - corner[0])
    second = math.atan2(b[1] - corner[1], b[0] - corner[0])
    angle = abs(math.degrees(first - second)) % 360
    return min(angle, 360 - angle)


@SLOW
@given(constructs(), st.floats(0, 1), st.floats(-0.49, 0.49))
def test_ownership_agrees_with_polygons(construct: Construct, along: float, across: float) -> None:
    """shapely's point-in-polygon, on fragments built from the faces, agrees with the owner of any point."""
    layout = lay_out(construct, "normal", CATALOGUE, Allowances())
    fracture = layout.fracture
    low, high = fracture.extent_mm
    s = low - 20 + along * (high - low + 40)
    y = across * layout.shape.depth(s)
    if fracture.wedge is not None:  # beyond its own corners the wedge runs on to the surface; its polygon does not
        y = max(-abs(fracture.wedge.corners[0][1]), min(abs(fracture.wedge.corners[0][1]), y))
    owner = fracture.owner(s, y)
    point = Point(s, y)
    wedge = Polygon(fracture.wedge.corners) if fracture.wedge is not None else Polygon()
    tall = 100.0
    starts = [((-999.0, tall), (-999.0, -tall))]
    starts += [((ln.distal_face(tall), tall), (ln.distal_face(-tall), -tall)) for ln in fracture.lines]
    ends = [((ln.proximal_face(tall), tall), (ln.proximal_face(-tall), -tall)) for ln in fracture.lines]
    ends += [((9999.0, tall), (9999.0, -tall))]
    polygons = [Polygon([a[0], b[0], b[1], a[1]]) for a, b in zip(starts, ends, strict=True)]
    assume(all(polygon.exterior.distance(point) >= 1e-6 for polygon in polygons))  # on an edge, either side is right
    assume(wedge.is_empty or wedge.exterior.distance(point) >= 1e-5)
    inside = [f.name for f, polygon in zip(fracture.fragments, polygons, strict=True) if polygon.contains(point)]
    if wedge.contains(point):
        assert owner == "wedge"
    elif owner == "zone":
        assert inside == []
    else:
        assert inside in ([owner], [])


@SLOW
@given(cases())
def test_screws_and_cortices_are_all_accounted_for(case: object) -> None:
    for construct in case.constructs:  # type: ignore[attr-defined]
        layout = lay_out(construct, "normal", CATALOGUE, Allowances())
        summary = summarise(layout)
        elsewhere = sum(screw.home in (None, "wedge") for screw in layout.screws)
        held = sum(f.screws + f.independent_lags for f in summary.fragments)
        assert held + elsewhere == len(layout.screws) == len(construct.screw_ids)
        tied = [s for s in layout.screws if s.hole is not None and s.home not in (None, "wedge")]
        held = [p for s in tied for p in s.passages if p.holds and p.owner == s.home]
        assert sum(f.cortices for f in summary.fragments) == len(held)
        under = [hole for hole in layout.holes if hole.fragment is not None]
        assert len(under) + len(layout.holes_over_fracture) == construct.plate.holes


def mirrored(construct: Construct, length: float) -> Construct:
    """The same construct seen from the other end."""
    fracture = construct.fracture
    lines = tuple(
        ln.model_copy(
            update={
                "position_mm": length - ln.position_mm,
                "obliquity_deg": -ln.obliquity_deg,
                "spiral": OTHER_HAND[ln.spiral],
            }
        )
        for ln in reversed(fracture.lines)
    )
    wedge = fracture.wedge and fracture.wedge.model_copy(update={"line": len(lines) - 1 - fracture.wedge.line})
    return construct.model_copy(
        update={
            "fracture": fracture.model_copy(update={"lines": lines, "wedge": wedge}),
            "plate": construct.plate.model_copy(update={"centre_mm": length - construct.plate.centre_mm}),
            "holes": tuple(h.model_copy(update={"tilt_deg": -h.tilt_deg}) for h in reversed(construct.holes)),
            "lag_screws": tuple(
                g.model_copy(update={"position_mm": length - g.position_mm, "tilt_deg": -g.tilt_deg})
                for g in construct.lag_screws
            ),
            "order": None,
        }
    )


def alike(a: float | None, b: float | None) -> bool:
    return a == b if a is None or b is None else a == pytest.approx(b, rel=1e-6, abs=1e-6)


def mirrored_catalogue(name: str) -> Catalogue:
    rows = CATALOGUE.bones[name].profile
    return with_profile(CATALOGUE, name, tuple(replace(r, fraction=1 - r.fraction) for r in reversed(rows)))


@SLOW
@given(constructs())
def test_mirroring_swaps_every_figure(construct: Construct) -> None:
    length = CATALOGUE.bones[construct.bone.name].length_mm
    here = summarise(lay_out(construct, "normal", CATALOGUE, Allowances()))
    other = mirrored_catalogue(construct.bone.name)
    there = summarise(lay_out(mirrored(construct, length), "normal", other, Allowances()))
    for a, b in zip(here.fragments, reversed(there.fragments), strict=True):
        assert (a.cortices, a.obtuse_at_plate, a.holes) == (b.cortices, b.obtuse_at_plate, b.holes)
        assert a.screws == b.screws
        assert a.spread_mm == pytest.approx(b.spread_mm, abs=1e-6)
        assert alike(a.nearest_screw_mm, b.nearest_screw_mm)
    assert alike(here.bridging_span_mm, there.bridging_span_mm)
    assert alike(here.plate_span_ratio, there.plate_span_ratio)


@SLOW
@given(st.floats(-40, 40), st.floats(-60, 60))
def test_shifting_bone_plate_and_fracture_together_changes_nothing(shift: float, obliquity: float) -> None:
    """On a plain tube, the same construct elsewhere has the same figures."""
    base = tube(obliquity=obliquity, holes={n: Hole(role="neutral") for n in (1, 3, 7, 9)}).construct
    lines = (base.fracture.lines[0].model_copy(update={"position_mm": 150 + shift}),)
    moved = base.model_copy(
        update={
            "fracture": base.fracture.model_copy(update={"lines": lines}),
            "plate": base.plate.model_copy(update={"centre_mm": 150 + shift}),
        }
    )
    a = summarise(lay_out(base, "normal", STRAIGHT, Allowances()))
    b = summarise(lay_out(moved, "normal", STRAIGHT, Allowances()))
    assert a.bridging_span_mm == pytest.approx(b.bridging_span_mm)
    assert [f.screws for f in a.fragments] == [f.screws for f in b.fragments]
    assert [f.spread_mm for f in a.fragments] == pytest.approx([f.spread_mm for f in b.fragments])
    assert [f.nearest_screw_mm for f in a.fragments] == pytest.approx([f.nearest_screw_mm for f in b.fragments])


@SLOW
@given(constructs())
def test_clearance_along_the_shaft_is_never_less_than_the_true_distance(construct: Construct) -> None:
    """shapely's distance between the screw's path and the faces of the fracture lines, which are planes here."""
    lines = tuple(line.model_copy(update={"spiral": None}) for line in construct.fracture.lines)
    flat = construct.fracture.model_copy(update={"wedge": None, "lines": lines})
    construct = construct.model_copy(update={"fracture": flat})
    layout = lay_out(construct, "normal", CATALOGUE, Allowances())
    for screw in layout.screws:
        # in the plane that the screw lies in
        lines = turned_fracture(layout.fracture, turned_shape(layout.shape, screw.turn_deg), screw.turn_deg).lines
        faces = [LineString([(f(50), 50), (f(-50), -50)]) for ln in lines for f in (ln.proximal_face, ln.distal_face)]
        path = LineString([screw.passages[0].entry, screw.passages[-1].exit])
        true = min(path.distance(face) for face in faces)
        assert screw.clear_of_fracture_mm >= true - 1e-6 or screw.clear_of_fracture_mm == 0


@pytest.mark.parametrize(("side", "cortices"), [("near", 1), ("far", 2), ("far", 1)])
def test_clearance_of_a_wedge_is_taken_where_it_is_widest(side: str, cortices: int) -> None:
    """A 24 mm wedge on a square line at 150 ends at 162; hole 6 lies at 168. What stays near clears a far wedge."""
    role = "locking-2" if cortices == 2 else "locking-1"
    wedge = Wedge(side=side, length_mm=24)
    screw = tube(wedge=wedge, holes={6: Hole(role=role)}).screw("h6")
    reaches = side == "near" or cortices == 2
    assert screw.clear_of_fracture_mm == pytest.approx(6 if reaches else 18)


def test_a_plate_off_the_bone_is_told_with_its_range() -> None:
    from app.case.models import Case

    construct = tube().construct
    off = construct.model_copy(update={"plate": construct.plate.model_copy(update={"centre_mm": 20})})
    case = Case(format="fishplate-case/2", title="x", constructs=(off,))
    (fault,) = check_case(case, STRAIGHT)
    assert fault.path == "constructs.0.plate.centre_mm"
    assert "82.0 to 218.0" in fault.message
