"""Figures of a construct that need no mechanics: what was chosen, what follows, by fragment and by screw."""

from app.case.models import Fracture, FractureLine
from app.case.roles import ROLE
from app.figures.figure import Figure, decimals, yes
from app.geometry import FragmentSummary, Layout, ScrewPath, Summary, contour_of
from app.rules import LEVELS, Level, Warning

WHOLE_NUMBER = decimals(0)
HUNDREDTHS = decimals(2)

CHOSEN: tuple[Figure[Layout], ...] = (
    Figure("bone", "Chosen", "Bone", "", lambda of: of.construct.bone.name),
    Figure("side", "Chosen", "Side", "", lambda of: of.construct.bone.side),
    Figure("surface", "Chosen", "Surface under the plate", "", lambda of: of.construct.surface),
    Figure("bone-length", "Chosen", "Bone length", "mm", lambda of: of.shape.length_mm, WHOLE_NUMBER),
    Figure("principle", "Chosen", "Principle", "", lambda of: of.construct.principle),
    Figure("plate-series", "Chosen", "Plate", "", lambda of: of.construct.plate.series),
    Figure("plate-holes", "Chosen", "Holes", "", lambda of: of.construct.plate.holes, WHOLE_NUMBER),
    Figure("plate-middle", "Chosen", "Middle of the plate", "mm", lambda of: of.construct.plate.centre_mm),
    Figure("standoff", "Chosen", "Stand-off", "mm", lambda of: of.construct.plate.standoff_mm),
    Figure("prebend", "Chosen", "Pre-bend", "mm", lambda of: of.construct.plate.prebend_mm),
)


def _wedge(of: Fracture) -> str | None:
    wedge = of.wedge
    return None if wedge is None else f"{wedge.side} side, {wedge.length_mm:.1f} mm, at line {wedge.line + 1}"


def _spiral(of: FractureLine) -> str | None:
    return None if of.spiral is None or of.obliquity_deg == 0 else f"winding to the {of.spiral}"


FRACTURE: tuple[Figure[Fracture], ...] = (
    Figure("code", "Fracture", "Code", "", lambda of: of.code or None),
    Figure("gap", "Fracture", "Gap", "mm", lambda of: of.gap_mm),
    Figure("wedge", "Fracture", "Wedge", "", _wedge),
)
FRACTURE_LINE: tuple[Figure[FractureLine], ...] = (
    Figure("position", "Fracture line", "Position", "mm", lambda of: of.position_mm),
    Figure("obliquity", "Fracture line", "Obliquity", "°", lambda of: of.obliquity_deg),
    Figure("line-turn", "Fracture line", "Turned about the shaft", "°", lambda of: of.turn_deg),
    Figure("spiral", "Fracture line", "Spiral", "", _spiral),
    Figure("zone", "Fracture line", "Zone", "mm", lambda of: of.zone_mm),
)


def _over(of: Summary) -> str:
    return ", ".join(map(str, of.holes_over_fracture)) or "none"


_CONSTRUCT = "ConstructDocument"
BRIDGING_SPAN: Figure[Summary] = Figure(
    "bridging-span", "Construct", "Bridging span (working length)", "mm", lambda of: of.bridging_span_mm,
    document=f"{_CONSTRUCT}.bridging_span_mm",
)  # fmt: skip
PLATE_LENGTH: Figure[Summary] = Figure(
    "plate-length", "Construct", "Plate length", "mm", lambda of: of.plate_length_mm,
    document=f"{_CONSTRUCT}.plate_length_mm",
)  # fmt: skip
PLATE_SPAN_RATIO: Figure[Summary] = Figure(
    "plate-span-ratio", "Construct", "Plate span ratio", "", lambda of: of.plate_span_ratio,
    document=f"{_CONSTRUCT}.plate_span_ratio",
)  # fmt: skip
SCREW_DENSITY: Figure[Summary] = Figure(
    "screw-density", "Construct", "Screw density", "", lambda of: of.screw_density, HUNDREDTHS,
    document=f"{_CONSTRUCT}.screw_density",
)  # fmt: skip
HOLES_OVER_FRACTURE: Figure[Summary] = Figure(
    "holes-over-fracture", "Construct", "Holes over fracture", "", _over, document=f"{_CONSTRUCT}.holes_over_fracture"
)
TRAVEL: Figure[Summary] = Figure(
    "travel", "Construct", "Travel", "mm", lambda of: of.travel_mm, document=f"{_CONSTRUCT}.travel_mm"
)
WHOLE = (BRIDGING_SPAN, PLATE_LENGTH, PLATE_SPAN_RATIO, SCREW_DENSITY, HOLES_OVER_FRACTURE, TRAVEL)

_CONTOUR = "ContourDocument"
BENT: Figure[Layout] = Figure(
    "bent", "Contouring", "All bends between holes", "°", lambda of: contour_of(of).bent_deg,
    document=f"{_CONTOUR}.bent_deg",
)  # fmt: skip
CONTOUR: tuple[Figure[Layout], ...] = (
    Figure(
        "stands-off", "Contouring", "Stands off unbent", "mm", lambda of: of.contour_mm,
        document=f"{_CONTOUR}.stands_off_mm",
    ),
    BENT,
    Figure(
        "turned", "Contouring", "Turn from the first to the last hole", "°", lambda of: contour_of(of).turn_deg,
        document=f"{_CONTOUR}.turn_deg",
    ),
    Figure("prebend-angle", "Contouring", "Pre-bend", "°", lambda of: contour_of(of).prebend_deg),
    Figure(
        "bow-across", "Contouring", "Bow across the plate's width", "mm", lambda of: of.across.bow_mm,
        document=f"{_CONTOUR}.bow_across_mm",
    ),
    Figure("beside-edge", "Contouring", "Past the bone's edge", "mm", lambda of: of.across.overrun_mm),
)  # fmt: skip

_FRAGMENT = "FragmentDocument"
SCREWS: Figure[FragmentSummary] = Figure(
    "screws", "Fragment", "Screws", "", lambda of: of.screws, WHOLE_NUMBER, document=f"{_FRAGMENT}.screws"
)
CORTICES: Figure[FragmentSummary] = Figure(
    "cortices", "Fragment", "Cortices", "", lambda of: of.cortices, WHOLE_NUMBER, document=f"{_FRAGMENT}.cortices"
)
LAGS_BESIDE: Figure[FragmentSummary] = Figure(
    "independent-lags", "Fragment", "Independent lag screws", "", lambda of: of.independent_lags, WHOLE_NUMBER,
    document=f"{_FRAGMENT}.independent_lags",
)  # fmt: skip
SPREAD: Figure[FragmentSummary] = Figure(
    "spread", "Fragment", "Spread", "mm", lambda of: of.spread_mm, document=f"{_FRAGMENT}.spread_mm"
)
NEAREST: Figure[FragmentSummary] = Figure(
    "nearest", "Fragment", "Nearest screw", "mm", lambda of: of.nearest_screw_mm,
    document=f"{_FRAGMENT}.nearest_screw_mm",
)  # fmt: skip
HOLD = (SCREWS, CORTICES, SPREAD, NEAREST)  # what a fragment is held with
FRAGMENT: tuple[Figure[FragmentSummary], ...] = (
    *HOLD,
    LAGS_BESIDE,
    Figure("fragment-holes", "Fragment", "Holes", "", lambda of: of.holes, WHOLE_NUMBER),
    Figure(
        "obtuse", "Fragment", "Obtuse corner at the plate", "", lambda of: yes(of.obtuse_at_plate),
        document=f"{_FRAGMENT}.obtuse_at_plate",
    ),
)  # fmt: skip

_SCREW = "ScrewDocument"
ANGLE: Figure[ScrewPath] = Figure(
    "angle", "Screw", "Angle to fracture normal", "°", lambda of: of.angle_to_normal_deg, WHOLE_NUMBER,
    document=f"{_SCREW}.angle_to_fracture_normal_deg",
)  # fmt: skip
SCREW: tuple[Figure[ScrewPath], ...] = (
    Figure("role", "Screw", "Screw", "", lambda of: ROLE[of.role].name, document=f"{_SCREW}.role"),
    Figure("cortices-held", "Screw", "Cortices held", "", lambda of: of.cortices_held, WHOLE_NUMBER),
    Figure("length", "Screw", "Length", "mm", lambda of: of.length_mm, document=f"{_SCREW}.length_mm"),
    Figure(
        "stock-length", "Screw", "Length to take", "mm", lambda of: of.stock_length_mm, WHOLE_NUMBER,
        document=f"{_SCREW}.stock_length_mm",
    ),
    Figure("tilt", "Screw", "Tilt", "°", lambda of: of.tilt_deg),
    Figure("screw-turn", "Screw", "Turned about the shaft", "°", lambda of: of.turn_deg or None),
    ANGLE,
)  # fmt: skip


def _angles(of: Layout) -> str | None:
    lags = (screw for screw in of.screws if screw.role == "lag" and screw.angle_to_normal_deg is not None)
    return ", ".join(f"{screw.id} {ANGLE.text(screw)}{ANGLE.unit}" for screw in lags) or None


LAG_ANGLE: Figure[Layout] = Figure("lag-angle", "Construct", "Lag to fracture normal", "", _angles)


def _count(level: Level) -> Figure[tuple[Warning, ...]]:
    # A stop says that the construct will not do what it claims: fewer are better. Cautions weigh too differently.
    # Notes that were put away count too: noting one does not make another construct.
    return Figure(
        f"{level}s", "Warnings", level.capitalize() if level != "note" else "Note, noted or not", "",
        lambda of: sum(warning.level == level for warning in of), WHOLE_NUMBER, "lower" if level == "stop" else None,
    )  # fmt: skip


WARNED = tuple(_count(level) for level in LEVELS)
