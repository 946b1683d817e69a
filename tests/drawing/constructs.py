"""Constructs to draw, and ways to look into a drawing."""

from collections.abc import Iterator
from xml.etree import ElementTree
from xml.etree.ElementTree import Element

from app import rules
from app.assess import ConstructAssessment
from app.case.models import ROLES, Bone, BoneQuality, Construct, Fracture, FractureLine, Hole, LagScrew, Plate, Wedge
from app.catalogue import load_catalogue
from app.geometry import Allowances, lay_out, plate_length, summarise

CATALOGUE = load_catalogue()
SVG = "{http://www.w3.org/2000/svg}"

USUAL = [(bone.name, series) for bone in CATALOGUE.bones.values() for series in bone.usual_series]


def assessed(
    construct: Construct, warnings: tuple[rules.Warning, ...] = (), quality: BoneQuality = "normal", target: int = 0
) -> ConstructAssessment:
    layout = lay_out(construct, quality, CATALOGUE, Allowances())
    return ConstructAssessment(target, layout, summarise(layout), warnings)


def warning(level: rules.Level, *subject: str) -> rules.Warning:
    return rules.Warning(
        rule="test",
        level=level,
        subject=subject,
        message="",
        why="",
        source="",
        remedy=None,
    )


def construct(
    bone: str = "radius",
    series: str = "small-3.5",
    holes: int = 8,
    roles: dict[int, str] | None = None,
    tilts: dict[int, float] | None = None,
    lines: tuple[tuple[float, float, float], ...] = ((0, 30, 0),),
    wedge: Wedge | None = None,
    gap_mm: float = 0,
    lags: tuple[tuple[float, float], ...] = (),
    standoff_mm: float = 0,
    prebend_mm: float = 0,
) -> Construct:
    """A construct about the middle of its bone; lines and separate screws are given by their distance from there."""
    middle = CATALOGUE.bones[bone].length_mm / 2
    roles, tilts = roles or {}, tilts or {}
    return Construct.model_validate(
        {
            "bone": Bone(name=bone),
            "fracture": Fracture(
                lines=tuple(
                    FractureLine(position_mm=middle + s, obliquity_deg=lean, zone_mm=zone) for s, lean, zone in lines
                ),
                gap_mm=gap_mm,
                wedge=wedge,
            ),
            "principle": "compression",
            "plate": Plate(
                series=series, holes=holes, centre_mm=middle, standoff_mm=standoff_mm, prebend_mm=prebend_mm
            ),
            "holes": tuple(Hole(role=roles.get(n, "empty"), tilt_deg=tilts.get(n, 0)) for n in range(1, holes + 1)),
            "lag_screws": tuple(LagScrew(position_mm=middle + s, tilt_deg=tilt) for s, tilt in lags),
        }
    )


def longest(bone: str, series: str) -> int:
    """The most holes that a series has on a typical adult's bone."""
    made = CATALOGUE.series[series]
    return max(n for n in made.holes_made if plate_length(made, n) < CATALOGUE.bones[bone].length_mm - 4)


def every_role(series: str, holes: int) -> dict[int, str]:
    """All roles that the series takes, in turn."""
    roles = [role for role in ROLES if role in CATALOGUE.series[series].roles()]
    return {n: roles[n % len(roles)] for n in range(1, holes + 1)}


SOME = {
    "oblique, lag through the plate": construct(
        roles={1: "neutral", 3: "neutral", 4: "lag", 5: "eccentric", 8: "neutral"}, tilts={4: 20}
    ),
    "transverse, pre-bent": construct(
        "humerus", "large-narrow-4.5", 9, {1: "neutral", 4: "eccentric", 6: "neutral"}, lines=((9, 0, 0),), prebend_mm=1
    ),
    "separate lag screws": construct(
        "fibula", "third-tubular-3.5", 8, {1: "neutral", 8: "neutral"}, lines=((0, 50, 0),), lags=((-6, 40), (6, 40))
    ),
    "segmental": construct(
        "tibia", "large-narrow-4.5", 14, {1: "locking-2", 7: "locking-1", 14: "locking-2"},
        lines=((-45, 30, 0), (45, -20, 8)),
    ),
    "bridged zone": construct(
        "ulna", "small-3.5", 11, {1: "locking-2", 3: "locking-2", 9: "locking-2", 11: "locking-2"},
        lines=((0, 0, 25),), standoff_mm=1,
    ),
    "near wedge": construct(
        "humerus", "large-narrow-4.5", 10, {1: "neutral", 10: "neutral"}, lines=((0, 0, 0),),
        wedge=Wedge(side="near", length_mm=30), lags=((-8, 20),),
    ),
    "far wedge with a gap": construct(
        "tibia", "large-narrow-4.5", 10, {1: "locking-2", 10: "locking-2"}, lines=((0, 15, 0),),
        wedge=Wedge(side="far", length_mm=36), gap_mm=2,
    ),
    "standing off": construct(
        "femur", "large-broad-4.5", 14, {1: "locking-2", 14: "locking-2"}, lines=((0, 10, 40),), standoff_mm=3
    ),
    "mini plate": construct(
        "clavicle", "mini-2.7", 8, {1: "neutral", 4: "lag", 5: "eccentric"}, lines=((0, -45, 0),), tilts={4: -20}
    ),
}  # fmt: skip


def parsed(drawing: str) -> Element:
    return ElementTree.fromstring(drawing)


def by_id(root: Element, name: str) -> Element:
    found = [element for element in root.iter() if element.get("id") == name]
    assert len(found) == 1, f"{len(found)} elements have the id {name}"
    return found[0]


def handles(root: Element) -> Iterator[Element]:
    return (element for element in root.iter() if "handle" in (element.get("class") or "").split())
