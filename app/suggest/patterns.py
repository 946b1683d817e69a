"""What is drawn for a fracture pattern, which principles fit it, and the case that a bone begins with."""

from app.assess import Knowledge
from app.case.codes import parse_code, pattern_on
from app.case.edits import ReplaceConstruct
from app.case.models import Case, Construct, Fracture, FractureLine, Principle, Wedge
from app.catalogue.models import BoneSpec, PlateSeries
from app.geometry import bone_shape
from app.geometry.fracture import lay_lines
from app.geometry.limits import END_MARGIN_MM

NUDGES = 30  # towards the middle, until a pattern drawn near the end lies on the bone

# What is drawn when a pattern is chosen: obliquity, zone as a share of the bone's length, wedge likewise, and the
# distance of the two lines of a segmental fracture. Invented for the demonstration; the user drags them into place,
# and says which way a spiral winds.
DRAWN = {
    "A": (45.0, 0.0, 0.0, 0.0),
    "A1": (60.0, 0.0, 0.0, 0.0),
    "A2": (45.0, 0.0, 0.0, 0.0),
    "A3": (0.0, 0.0, 0.0, 0.0),
    "B": (35.0, 0.0, 0.09, 0.0),
    "B2": (35.0, 0.0, 0.09, 0.0),
    "B3": (20.0, 0.06, 0.0, 0.0),
    "C": (10.0, 0.10, 0.0, 0.0),
    "C2": (20.0, 0.0, 0.0, 0.16),
    "C3": (10.0, 0.11, 0.0, 0.0),
}

FITTING: dict[str, tuple[Principle, ...]] = {
    "A": ("compression", "protection"),
    "A1": ("protection",),  # so steep a line is mainly sheared by a plate that presses along the shaft
    "A3": ("compression",),  # square to the shaft: no room for a lag screw
    "B": ("protection", "bridging"),
    "B3": ("bridging",),  # a wedge in pieces has nothing to lag
    "C": ("bridging",),
}


def drawn_pattern(spec: BoneSpec, pattern: str, position_mm: float, length_mm: float) -> Fracture:
    """The fracture that stands for a pattern on this bone, to be dragged into place.

    A group that the bone's codes don't have is drawn all the same, under the code of its type.
    """
    obliquity, zone, wedge, apart = DRAWN[pattern]
    shift = apart * length_mm / 2
    places = (position_mm - shift, position_mm + shift) if shift else (position_mm,)
    lines = tuple(
        FractureLine(
            position_mm=round(at, 1),
            obliquity_deg=obliquity,
            zone_mm=round(zone * length_mm),
            spiral="right" if pattern == "A1" else None,
        )
        for at in places
    )
    piece = Wedge(side="far", length_mm=round(wedge * length_mm)) if wedge else None
    return Fracture(code=spec.code_prefix + pattern_on(spec.name, pattern), lines=lines, wedge=piece)


def pattern_edit(construct: Construct, target: int, pattern: str, knowledge: Knowledge) -> ReplaceConstruct:
    """The edit that draws a pattern where the present fracture is, or as near to it as the bone is long enough."""
    value = construct.model_copy(update={"fracture": _on_bone(construct, pattern, knowledge)})
    return ReplaceConstruct(target=target, value=value)


def _on_bone(construct: Construct, pattern: str, knowledge: Knowledge) -> Fracture:
    spec = knowledge.catalogue.bones[construct.bone.name]
    normal = knowledge.catalogue.qualities["normal"]  # the outline is the same in all
    shape = bone_shape(construct.bone, spec, normal, construct.surface)
    lines = construct.fracture.lines
    middle = (lines[0].position_mm + lines[-1].position_mm) / 2
    half = DRAWN[pattern][3] * shape.length_mm / 2
    middle = min(max(middle, half + END_MARGIN_MM), shape.length_mm - half - END_MARGIN_MM)
    for _ in range(NUDGES):
        fracture = drawn_pattern(spec, pattern, middle, shape.length_mm)
        laid = lay_lines(construct.model_copy(update={"fracture": fracture}), shape)
        low, high = laid[0].extent_mm[0] - END_MARGIN_MM, shape.length_mm - END_MARGIN_MM - laid[-1].extent_mm[1]
        if min(low, high) >= 0:
            break
        middle += 0.1 - low if low < 0 else high - 0.1  # an oblique line runs on where the bone gets deeper
    return fracture


def fitting(pattern: str) -> tuple[Principle, ...]:
    """Principles that fit a pattern of the AO/OTA code (``A2``, or ``A``), the usual one first."""
    return FITTING.get(pattern, FITTING[pattern[0]])


def fitting_principles(construct: Construct, knowledge: Knowledge) -> tuple[Principle, ...]:
    """Principles that suit the fracture: by its code, else by what is drawn."""
    fracture = construct.fracture
    if fracture.code is not None:
        return fitting(parse_code(fracture.code).pattern)
    if len(fracture.lines) > 1 or any(line.zone_mm > 0 for line in fracture.lines):
        return FITTING["C"]
    if fracture.wedge:
        return FITTING["B"]
    return FITTING["A" if is_oblique(fracture, knowledge) else "A3"]


def is_oblique(fracture: Fracture, knowledge: Knowledge) -> bool:
    """Whether the first line counts as oblique, not transverse, by the department's own border."""
    border = knowledge.thresholds.value("pattern-angle", "oblique_from_deg")
    return abs(fracture.lines[0].obliquity_deg) >= border


def usual_holes(series: PlateSeries) -> int:
    """How many holes a plate begins with where nothing else says."""
    return series.holes_made[len(series.holes_made) // 3]


def blank_case(title: str, bone: str, knowledge: Knowledge) -> Case:
    """A new case: a simple oblique (or plain simple) mid-shaft fracture under the bone's usual plate."""
    spec = knowledge.catalogue.bones[bone]
    pattern = "A2" if bone not in ("clavicle", "fibula") else "A"
    series = knowledge.catalogue.series[spec.usual_series[0]]
    count = usual_holes(series)
    fracture = drawn_pattern(spec, pattern, round(spec.length_mm / 2), spec.length_mm)
    document = {
        "format": "fishplate-case/2",
        "title": title,
        "constructs": [
            {
                "bone": {"name": bone},
                "fracture": fracture.model_dump(mode="json"),
                "principle": "compression",
                "plate": {"series": series.key, "holes": count, "centre_mm": round(spec.length_mm / 2)},
                "holes": [{"role": "empty"}] * count,
            }
        ],
    }
    return Case.model_validate(document)
