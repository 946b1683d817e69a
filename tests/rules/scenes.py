"""Constructs that each rule must speak of, and whether it must then offer a remedy."""

from dataclasses import dataclass
from typing import Any

from app.case.models import Case
from tests.order.constructs import bridged_ulna, oblique_radius
from tests.rules.judging import case_of, edited, radius, role, tibia, ulna

Edit = dict[str, Any]


@dataclass(frozen=True)
class Scene:
    """A case in which ``rule`` speaks of ``subject`` at ``level``."""

    name: str
    rule: str
    level: str
    subject: str
    case: Case
    mends: bool = True


def _set(op: str, **fields: Any) -> Edit:
    return {"op": op, **fields}


def _lag(position_mm: float, tilt_deg: float = 0.0, turn_deg: float = 0.0) -> Edit:
    value = {"position_mm": position_mm, "tilt_deg": tilt_deg, "turn_deg": turn_deg, "screw": "cortex-3.5"}
    return {"op": "add_lag", "value": value}


WEDGE = _set("set_wedge", wedge={"side": "far", "length_mm": 24})
NEAR_WEDGE = _set("set_wedge", wedge={"side": "near", "length_mm": 12})
PROTECT = _set("set_principle", principle="protection")
BRIDGE = _set("set_principle", principle="bridging")
COMPRESS = _set("set_principle", principle="compression")
POOR = _set("set_quality", bone_quality="poor")
LOCKED = [role(n, "locking-2") for n in (1, 3, 5, 8)]
SECOND_LINE = _set("add_line", value={"position_mm": 60.0, "obliquity_deg": 0.0, "zone_mm": 0.0})
FEMUR = [
    _set("set_bone", bone={"name": "femur"}),
    _set("set_code", code="32C3"),
    _set("move_fracture", position_mm=211.0),
    _set("set_plate", series="large-broad-4.5", holes=11, centre_mm=211.0),
]
TIBIA = [
    _set("set_bone", bone={"name": "tibia"}),
    _set("set_code", code="42C3"),
    _set("move_fracture", position_mm=175.0),
    _set("set_plate", series="large-narrow-4.5", holes=12, centre_mm=175.0),
    role(12, "locking-2"),
    role(11, "empty"),
]


def _forearm() -> Case:
    """Radius with a zone, then an ulna with one bare line."""
    bridged, oblique = bridged_ulna(), oblique_radius()
    first = bridged.model_copy(update={"bone": oblique.bone})
    return case_of(first, oblique.model_copy(update={"bone": bridged.bone}))


def _clavicle(series: str, holes: int) -> Case:
    """A simple mid-shaft clavicle under a plate of this series."""
    bone = _set("set_bone", bone={"name": "clavicle"})
    plate = _set("set_plate", series=series, holes=holes, centre_mm=76.0)
    return edited(radius(), bone, _set("set_code", code=None), _set("move_fracture", position_mm=76.0), plate)


def _forearm_plate(series: str) -> Case:
    return edited(
        radius(),
        _set("set_bone", bone={"name": "ulna"}),
        _set("set_code", code=None),
        _set("set_plate", series=series, holes=8),
    )


def _fibula(screw: str) -> Case:
    """An oblique fibula under its usual plate, lagged beside it by a screw of this size."""
    fibula = edited(
        radius(),
        _set("set_bone", bone={"name": "fibula"}),
        _set("set_code", code=None),
        _set("set_plate", series="third-tubular-3.5", holes=8, centre_mm=176.0),
        _set("move_fracture", position_mm=176.0),
    )
    return edited(fibula, {"op": "add_lag", "value": {"position_mm": 182.0, "tilt_deg": -45.0, "screw": screw}})


def lagged_wedge() -> Case:
    """A far wedge in a radius, drawn to one fragment by a lag screw beside the plate; the plate protects."""
    smaller = _set("set_wedge", wedge={"side": "far", "length_mm": 18})
    empty = (role(n, "empty") for n in (4, 5))
    wedge = edited(radius(35.0), *empty, role(2, "neutral"), role(6, "neutral"), role(7, "neutral"), smaller, PROTECT)
    return edited(wedge, {"op": "add_lag", "value": {"position_mm": 128.5, "tilt_deg": -24.0, "screw": "cortex-2.7"}})


def _low_radius() -> Case:
    """The whole construct 40 mm further down."""
    case = radius()
    plate, line = case.constructs[0].plate, case.constructs[0].fracture.lines[0]
    moved = _set("move_fracture", position_mm=line.position_mm + 40), _set("move_plate", centre_mm=plate.centre_mm + 40)
    return edited(case, *moved)


def _wide_tibia() -> Case:
    """A tibia under a plate whose screws come in steps of 5 mm from 55 mm on, where the bone is wide."""
    wide = _set("set_plate", series="large-narrow-4.5", holes=8, centre_mm=75.0)
    return edited(tibia(), wide, *(role(n, "locking-2") for n in (1, 2)))


def on_a_hollow_flare() -> Case:
    """A plate up on the humerus' flare, which is bent the more the nearer to the joint: its screws run together."""
    spots = {"series": "small-compression-3.5", "holes": 4, "centre_mm": 36}
    given = {
        "bone": {"name": "humerus"},
        "fracture": {"lines": [{"position_mm": 190}]},
        "principle": "bridging",
        "plate": spots,
        "holes": [{"role": "neutral"}] * 4,
    }
    return Case.model_validate({"format": "fishplate-case/2", "title": "On the flare", "constructs": [given]})


def _noted(note: str) -> Case:
    return edited(radius(), _set("set_note", note=note))


SCENES = (
    Scene(
        "oblique coded transverse", "pattern-angle", "note", "line-0", edited(radius(), _set("set_code", code="2R2A3"))
    ),
    Scene(
        "transverse coded oblique",
        "pattern-angle",
        "note",
        "line-0",
        edited(radius(), _set("set_obliquity", obliquity_deg=29)),
    ),
    Scene(
        "spiral coded oblique",
        "pattern-angle",
        "note",
        "line-0",
        edited(radius(), _set("set_code", code="2R2A2"), _set("set_spiral", spiral="left")),
    ),
    Scene("two lines coded simple", "pattern-angle", "note", "line-0", edited(radius(), SECOND_LINE)),
    Scene("wedge coded simple", "pattern-angle", "note", "line-0", edited(radius(), WEDGE)),
    Scene("another bone's code", "pattern-angle", "caution", "bone", edited(radius(), _set("set_code", code="12A2"))),
    Scene("simple bridged", "principle-fit", "note", "line-0", edited(radius(), BRIDGE)),
    Scene("zone compressed", "principle-fit", "stop", "line-0", edited(ulna(), COMPRESS)),
    Scene("eccentric under a bridge", "principle-fit", "stop", "h9", edited(ulna(), role(9, "eccentric"))),
    Scene(
        "pre-bent for protection",
        "principle-fit",
        "caution",
        "plate",
        edited(radius(), PROTECT, role(5, "neutral"), _set("set_prebend", prebend_mm=1.5)),
    ),
    Scene("eccentric under protection", "principle-fit", "caution", "h5", edited(radius(), PROTECT)),
    Scene(
        "transverse, protected without a lag",
        "lag-missing",
        "stop",
        "line-0",
        edited(radius(0.0), role(4, "empty"), role(5, "neutral"), PROTECT),
    ),
    Scene("zone protected", "principle-fit", "caution", "line-0", edited(ulna(), PROTECT)),
    Scene("large wedge loose", "principle-fit", "caution", "wedge", edited(radius(), WEDGE, role(4, "empty"))),
    Scene(
        "small wedge loose",
        "principle-fit",
        "note",
        "wedge",
        edited(radius(), NEAR_WEDGE, _set("set_wedge", wedge={"side": "far", "length_mm": 8}), role(4, "empty")),
    ),
    Scene(
        "one screw",
        "screws-per-fragment",
        "stop",
        "fragment-proximal",
        edited(radius(), role(1, "empty"), role(4, "empty")),
    ),
    Scene(
        "none", "screws-per-fragment", "stop", "fragment-distal", edited(ulna(), role(9, "empty"), role(11, "empty"))
    ),
    Scene(
        "one-cortex hold",
        "screws-per-fragment",
        "caution",
        "fragment-distal",
        edited(ulna(), role(9, "locking-1"), role(11, "locking-1")),
    ),
    Scene(
        "fewer than the handbook's three",
        "screws-per-fragment",
        "caution",
        "fragment-proximal",
        edited(ulna(), *FEMUR, _set("set_zone", zone_mm=0), COMPRESS),
    ),
    Scene(
        "fewer than the handbook's three, poor bone",
        "screws-per-fragment",
        "caution",
        "fragment-proximal",
        edited(ulna(), *FEMUR, _set("set_zone", zone_mm=0), COMPRESS, POOR),
    ),
    Scene("assumed figure only", "screws-per-fragment", "note", "fragment-proximal", edited(ulna(), *TIBIA)),
    Scene(
        "assumed figure, poor bone", "screws-per-fragment", "note", "fragment-proximal", edited(ulna(), *TIBIA, POOR)
    ),
    Scene("poor bone wants one more", "screws-per-fragment", "note", "fragment-distal", edited(radius(), POOR)),
    Scene("poor bone, nothing locks", "fill-in-poor-bone", "caution", "fragment-distal", edited(radius(), POOR)),
    Scene(
        "poor bone, a plate that can't lock",
        "fill-in-poor-bone",
        "caution",
        "h2",
        edited(radius(), POOR, _set("set_plate", series="small-compression-3.5", holes=8)),
    ),
    Scene(
        "most holes filled",
        "screw-density",
        "caution",
        "plate",
        edited(ulna(), *(role(n, "locking-2") for n in (2, 4, 8, 10))),
    ),
    Scene(
        "a row beside the zone",
        "screw-density",
        "note",
        "h3",
        edited(ulna(), role(1, "empty"), *(role(n, "locking-2") for n in (2, 4))),
    ),
    Scene(
        "huddled inside", "spread", "note", "fragment-proximal", edited(ulna(), role(1, "empty"), role(4, "locking-2"))
    ),
    Scene(
        "huddled outside", "spread", "note", "fragment-distal", edited(ulna(), role(9, "empty"), role(10, "locking-2"))
    ),
    Scene("end hole", "spread", "note", "h1", edited(ulna(), role(1, "empty"), role(2, "locking-2"))),
    Scene("broad plate on a clavicle", "implant-fit", "stop", "plate", _clavicle("large-broad-4.5", 6), mends=False),
    Scene("large plate on a forearm", "implant-fit", "stop", "plate", _forearm_plate("large-narrow-4.5")),
    Scene(
        "small plate on a femur",
        "implant-fit",
        "caution",
        "plate",
        edited(ulna(), *FEMUR, _set("set_plate", series="small-3.5", holes=11)),
    ),
    Scene("thick lag in a fibula", "implant-fit", "caution", "s1", _fibula("cortex-4.5")),
    Scene(
        "steep, closed along the shaft",
        "steep-line",
        "caution",
        "line-0",
        edited(radius(), role(4, "empty"), _set("set_obliquity", obliquity_deg=62)),
    ),
    Scene("lag across an open gap", "lag-over-gap", "caution", "h4", edited(radius(), _set("set_gap", gap_mm=2.5))),
    Scene("wedge lagged, line loose", "residual-line", "caution", "line-0", lagged_wedge()),
    Scene("radius near the wrist", "joints-to-check", "note", "bone", _low_radius(), mends=False),
    Scene("femur plated", "alternatives", "note", "bone", edited(ulna(), *FEMUR), mends=False),
    Scene(
        "bridged locked, no free hole",
        "bridging-span",
        "caution",
        "plate",
        edited(
            radius(0.0),
            BRIDGE,
            *(role(n, "locking-2") for n in (1, 2, 3, 5, 6, 7, 8)),
            role(4, "locking-2"),
            _set("move_fracture", position_mm=114.0),
        ),
    ),
    Scene(
        "far too long a bridge",
        "bridging-span",
        "caution",
        "h1",
        edited(
            ulna(),
            _set("set_zone", zone_mm=5),
            role(3, "empty"),
            role(9, "empty"),
            role(2, "locking-2"),
            role(10, "locking-2"),
            role(2, "empty"),
            role(10, "empty"),
        ),
    ),
    Scene(
        "compressed from far too far",
        "bridging-span",
        "caution",
        "h2",
        edited(
            radius(0.0),
            _set("set_plate", series="small-3.5", holes=12, centre_mm=122.0),
            _set("set_prebend", prebend_mm=1.5),
            *(role(n, "empty") for n in (3, 4, 5, 8)),
            *(role(n, "neutral") for n in (1, 2, 12)),
            role(11, "eccentric"),
        ),
    ),
    Scene(
        "few holes over a fragment",
        "plate-span",
        "caution",
        "fragment-proximal",
        edited(ulna(), _set("move_plate", centre_mm=148.0)),
    ),
    Scene(
        "short for the zone",
        "plate-span",
        "note",
        "plate",
        edited(ulna(), _set("set_plate", series="small-3.5", holes=5, centre_mm=125.0), _set("set_zone", zone_mm=40)),
    ),
    Scene(
        "off the shaft", "plate-span", "note", "bone", edited(ulna(), _set("move_plate", centre_mm=180.0)), mends=False
    ),
    Scene(
        "bridged without free holes",
        "bridging-span",
        "note",
        "plate",
        edited(
            radius(0.0),
            BRIDGE,
            *(role(n, "locking-2") for n in (1, 2, 3, 6, 7, 8)),
            role(4, "empty"),
            role(5, "locking-2"),
        ),
    ),
    Scene(
        "compressed from afar",
        "bridging-span",
        "note",
        "h2",
        edited(radius(), role(3, "empty"), role(5, "empty"), role(2, "neutral"), role(6, "eccentric")),
    ),
    Scene(
        "close to the line",
        "near-fracture",
        "caution",
        "h4",
        edited(radius(0.0), role(4, "neutral"), _set("move_fracture", position_mm=122.0)),
    ),
    Scene(
        "on the way to the line",
        "near-fracture",
        "caution",
        "h3",
        edited(radius(0.0), role(3, "neutral", 25), _set("move_fracture", position_mm=114.0), role(4, "empty")),
    ),
    Scene(
        "one hole too near",
        "near-fracture",
        "caution",
        "h3",
        edited(radius(0.0), role(4, "empty"), _set("move_fracture", position_mm=109.5)),
    ),
    Scene(
        "two screws meet",
        "near-fracture",
        "stop",
        "h2",
        edited(ulna(), role(1, "empty"), role(2, "neutral", 40), role(3, "neutral", -40)),
    ),
    Scene(
        "two tips near",
        "near-fracture",
        "note",
        "h2",
        edited(ulna(), role(1, "empty"), role(2, "neutral", 20), role(3, "neutral", -10)),
    ),
    Scene(
        "a spiral's straight crack under the plate",
        "near-fracture",
        "caution",
        "h3",
        edited(radius(60.0), _set("set_turn", turn_deg=90), _set("set_spiral", spiral="left")),
    ),
    Scene("two meet on a flare, square to their plate", "near-fracture", "stop", "h1", on_a_hollow_flare()),
    Scene(
        "two lags side by side",
        "near-fracture",
        "caution",
        "s1",
        edited(radius(), _lag(121.0, -25.0), _lag(126.0, -25.0)),
        mends=False,
    ),
    Scene("thread on both sides", "crosses-fracture", "stop", "h4", edited(radius(), role(4, "neutral"))),
    Scene(
        "thread on both sides of a bridge",
        "crosses-fracture",
        "caution",
        "h4",
        edited(radius(), role(4, "locking-2"), BRIDGE),
    ),
    Scene(
        "thread in the wedge",
        "crosses-fracture",
        "note",
        "h3",
        edited(
            radius(0.0),
            WEDGE,
            role(4, "empty"),
            role(5, "empty"),
            role(3, "neutral", 20),
            role(2, "neutral"),
            _set("move_fracture", position_mm=112.0),
        ),
    ),
    Scene("in the zone", "over-zone", "caution", "h6", edited(ulna(), role(6, "locking-2"))),
    Scene(
        "one cortex in the zone",
        "over-zone",
        "note",
        "h7",
        edited(
            ulna(),
            _set("set_obliquity", obliquity_deg=30),
            _set("move_fracture", position_mm=123.0),
            role(7, "locking-2"),
        ),
    ),
    Scene("lag beside the line", "lag-valid", "stop", "h2", edited(radius(), role(2, "lag"))),
    Scene(
        "lag leaning the wrong way",
        "lag-valid",
        "stop",
        "h4",
        edited(radius(), role(4, "lag", 25.0), _set("set_obliquity", obliquity_deg=15)),
    ),
    Scene("free lag beside the line", "lag-valid", "stop", "s1", edited(radius(), _lag(80.0))),
    Scene("lag in the zone", "lag-valid", "stop", "h6", edited(ulna(), role(6, "lag"))),
    Scene("thin rim", "lag-valid", "caution", "s1", edited(radius(), _lag(117.6))),
    Scene("lag too steep", "lag-angle", "caution", "h4", edited(radius(), role(4, "lag", -10.0))),
    Scene("lag out of reach", "lag-angle", "caution", "h4", edited(radius(), _set("set_obliquity", obliquity_deg=35))),
    Scene(
        "lag through the plate of a turned line",
        "lag-angle",
        "caution",
        "h4",
        edited(
            radius(),
            role(5, "empty"),
            role(4, "lag", -25.0),
            _set("move_fracture", position_mm=118.0),
            _set("set_obliquity", obliquity_deg=45),
            _set("set_turn", turn_deg=60),
        ),
    ),
    Scene(
        "head under the plate",
        "lag-under-plate",
        "caution",
        "s1",
        edited(
            radius(),
            role(4, "empty"),
            _set("set_obliquity", obliquity_deg=45),
            _set("set_turn", turn_deg=60),
            _lag(119.0, -43.0, 25.0),
        ),
    ),
    Scene("free lag upright", "lag-angle", "caution", "s1", edited(radius(), _lag(120.0))),
    Scene("leaning past the hole", "lag-angle", "note", "h4", edited(radius(), role(4, "lag", -30.0))),
    Scene("oblique without lag", "lag-missing", "caution", "line-0", edited(radius(), role(4, "empty"))),
    Scene("protection without lag", "lag-missing", "stop", "line-0", edited(radius(), role(4, "empty"), PROTECT)),
    Scene(
        "spiral without lag",
        "lag-missing",
        "stop",
        "line-0",
        edited(
            radius(),
            role(4, "empty"),
            role(5, "neutral"),
            _set("set_obliquity", obliquity_deg=62),
            _set("set_principle", principle="protection"),
        ),
    ),
    Scene("obliquity mirrored", "first-screw-side", "caution", "h5", radius(-45.0)),
    Scene(
        "nearest neutral on the acute side",
        "first-screw-side",
        "note",
        "h5",
        edited(radius(), role(5, "neutral"), role(3, "empty"), role(2, "neutral")),
    ),
    Scene(
        "third eccentric",
        "eccentric-count",
        "caution",
        "h6",
        edited(radius(), *(role(n, "eccentric") for n in (5, 6, 7))),
    ),
    Scene(
        "nothing to pull against",
        "eccentric-count",
        "stop",
        "fragment-proximal",
        edited(radius(), role(1, "empty"), role(3, "empty")),
        mends=False,
    ),
    Scene("gap too wide", "eccentric-count", "note", "h5", edited(radius(), _set("set_gap", gap_mm=1.5))),
    Scene(
        "gap too wide, large plate",
        "eccentric-count",
        "caution",
        "line-0",
        edited(tibia(), _set("set_gap", gap_mm=2.5)),
    ),
    Scene("wedge under the plate", "eccentric-count", "caution", "wedge", edited(radius(), NEAR_WEDGE)),
    Scene("nothing presses", "eccentric-count", "caution", "line-0", edited(tibia(), role(5, "neutral"))),
    Scene("straight plate", "prebend", "caution", "plate", edited(tibia(), _set("set_prebend", prebend_mm=0))),
    Scene("bent too far", "prebend", "caution", "plate", edited(tibia(), _set("set_prebend", prebend_mm=2.5))),
    Scene(
        "locking without a thread",
        "locking-hole",
        "stop",
        "h1",
        edited(radius(), _set("set_plate", series="small-compression-3.5", holes=8), role(1, "locking-2")),
    ),
    Scene(
        "locking in an oval hole",
        "locking-hole",
        "stop",
        "h1",
        edited(radius(), _set("set_plate", series="third-tubular-3.5", holes=8), role(1, "locking-2")),
    ),
    Scene("leaning locking screw", "locking-hole", "note", "h1", edited(ulna(), _set("set_tilt", hole=0, tilt_deg=10))),
    Scene("one cortex, torsion", "one-cortex", "caution", "h1", edited(ulna(), role(1, "locking-1"))),
    Scene(
        "one cortex, thin wall",
        "one-cortex",
        "note",
        "h1",
        edited(
            ulna(),
            _set("set_quality", bone_quality="reduced"),
            *FEMUR[:1],
            role(1, "locking-1"),
            _set("set_bone", bone={"name": "fibula"}),
            _set("set_code", code="4F2B"),
            _set("move_plate", centre_mm=110.0),
        ),
    ),
    Scene(
        "conventional plate off", "stand-off", "caution", "plate", edited(radius(), _set("set_standoff", standoff_mm=1))
    ),
    Scene("locked plate off", "stand-off", "caution", "plate", edited(ulna(), _set("set_standoff", standoff_mm=3))),
    Scene("locked plate far off", "stand-off", "caution", "plate", edited(ulna(), _set("set_standoff", standoff_mm=6))),
    Scene(
        "long plate on a bow",
        "contour",
        "note",
        "bone",
        edited(radius(), _set("set_plate", series="small-3.5", holes=13)),
        mends=False,
    ),
    Scene(
        "cortex beside locking off the bone",
        "mixed-fragment",
        "note",
        "h1",
        edited(radius(), role(1, "locking-2"), _set("set_standoff", standoff_mm=1)),
    ),
    Scene("no length fits", "screw-length", "note", "h2", _wide_tibia(), mends=False),
    Scene(
        "no screw so long",
        "screw-length",
        "caution",
        "h1",
        edited(
            ulna(),
            _set("set_bone", bone={"name": "tibia"}),
            _set("set_code", code=None),
            _set("set_plate", series="mini-2.7", holes=12, centre_mm=62.0),
        ),
        mends=False,
    ),
    Scene("nerve at the end", "structures-at-risk", "note", "plate", radius(), mends=False),
    Scene(
        "two forearm bones", "two-bones", "note", "construct-0", case_of(oblique_radius(), bridged_ulna()), mends=False
    ),
    Scene("complex bone first", "two-bones", "caution", "construct-0", _forearm()),
    Scene(
        "birth date in the title",
        "privacy",
        "caution",
        "title",
        case_of(oblique_radius(), title="Forearm, born 3.4.1951"),
    ),
    Scene("record number", "privacy", "caution", "note", _noted("MRN 0048213, fell on ice")),
    Scene("name", "privacy", "caution", "note", _noted("Name: Anna Muster. Fell on ice.")),
    Scene("plain date", "privacy", "caution", "note", _noted("1951-04-03")),
)
