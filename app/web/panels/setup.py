"""The set-up panel: bone, fracture, principle and plate as form controls."""

from collections.abc import Callable, Hashable
from dataclasses import dataclass, replace
from functools import lru_cache, partial

from app.assess import Assessment, ConstructAssessment, Knowledge
from app.case.codes import ALL_CODES, PREFIXES, patterns_of
from app.case.edits import (
    Edit,
    MoveFracture,
    MovePlate,
    RemoveLine,
    SetBone,
    SetCode,
    SetGap,
    SetObliquity,
    SetPrebend,
    SetPrinciple,
    SetQuality,
    SetSide,
    SetSpiral,
    SetStandoff,
    SetSurface,
    SetTurn,
    SetWedge,
    SetZone,
)
from app.case.forms import EditForm, lacking
from app.case.models import SURFACES, BodySide, Construct, Principle, Side, Surface, Winding
from app.catalogue import PlateSeries
from app.catalogue.models import Axis, InTension
from app.geometry import plate_length, ranges
from app.geometry.profile import typical_midshaft_depth
from app.suggest import (
    accepted,
    blank_case,
    new_line,
    plate_of_holes,
    plate_of_series,
    wedge_on,
)
from app.web.panels.controls import Action, Choice, Control, Group, Number, Option, Told
from app.wording import capitalised

PRINCIPLES: dict[Principle, str] = {
    "compression": "Compression",
    "protection": "Protection",
    "bridging": "Bridging",
}
WINDING: dict[Winding, str] = {"right": "spiral, to the right", "left": "spiral, to the left"}
JUDGED = (
    "the plane nearest to it",
    "Obliquity and turn are that plane’s. Lag screws, order and mechanics go by it; other screws keep clear of it and "
    "of the spiral as drawn. To the right means like a right-handed screw: which way it winds is yours to say.",
)
NOT_WINDING = ("one plane", "With a wedge on it, or square to the shaft, a line does not wind.")
SIDES: dict[Side, str] = {"near": "Near cortex", "far": "Far cortex"}
BODY_SIDES: dict[BodySide, str] = {"left": "Left", "right": "Right"}
# No need to try those: a wedge is at a line there is, of any length.
ALWAYS_FITS = (SetCode, SetPrinciple, SetWedge)
TENSION: dict[InTension, str] = {
    "tension": "this surface",
    "compression": "the opposite surface",
    "varies": "not fixed",
    "not known": "not known",
}
ACROSS: dict[Axis, str] = {
    "anteroposterior": "front to back",
    "mediolateral": "side to side",
    "superoinferior": "top to bottom",
}


@dataclass(frozen=True, slots=True)
class SetupPart:
    """Groups of the panel, not made yet. ``depends`` names all that they depend on but the knowledge.

    Most edits leave bone and plate alone, and what may be offered of them takes longer to find out than a drawing.
    """

    depends: Hashable
    make: Callable[[], tuple[Group, ...]]


def setup_parts(assessment: Assessment, one: ConstructAssessment, knowledge: Knowledge) -> tuple[SetupPart, ...]:
    """The set-up panel for one construct, in order.

    Another plate changes nothing about lines and screws beside it, and the case shown has no fault: so whether one may
    be offered depends on the bone and the present plate alone. Roles don't count: what is left of them is always valid.
    Another surface may show more of an oblique line than there is room for. What may be done with lines depends on the
    bone as the plate sees it, and on themselves.
    """
    bone = one.target, one.construct.bone, assessment.case.bone_quality
    lines = one.construct.surface, one.construct.fracture, one.construct.principle
    surface = tuple(edit is not None for edit in _surface_edits(assessment, one, knowledge).values())
    return (
        SetupPart(("bone", *bone), partial(_bone_group, assessment, one, knowledge)),
        SetupPart(("fracture", *bone, *lines), partial(_fracture_groups, assessment, one, knowledge)),
        SetupPart(("plate", *bone, one.construct.plate, surface), partial(_plate_group, assessment, one, knowledge)),
    )


def _bone_group(assessment: Assessment, one: ConstructAssessment, knowledge: Knowledge) -> tuple[Group, ...]:
    return (Group("bone", "Bone", (*_bone(one, knowledge), _quality(assessment, knowledge))),)


def _fracture_groups(assessment: Assessment, one: ConstructAssessment, knowledge: Knowledge) -> tuple[Group, ...]:
    pattern = Group("pattern", "Fracture", (_code(one), _principle(one), _gap(one), *_wedge(one)))
    return tuple(_offered(group, assessment, knowledge) for group in (pattern, *_lines(one)))


def _plate_group(assessment: Assessment, one: ConstructAssessment, knowledge: Knowledge) -> tuple[Group, ...]:
    surface = _surface(one, _surface_edits(assessment, one, knowledge))
    return (_offered(Group("plate", "Plate", _plate(one, surface, knowledge)), assessment, knowledge),)


def _offered(group: Group, assessment: Assessment, knowledge: Knowledge) -> Group:
    """The group without what would be refused: an option can't be chosen then, a button is not there."""

    def fits(edit: Edit | None) -> bool:
        if edit is None or isinstance(edit, ALWAYS_FITS):
            return edit is not None
        return accepted(assessment.case, edit, knowledge)

    def checked(control: Control) -> Control | None:
        if isinstance(control, Choice):
            options = tuple(option if fits(option.edit) else replace(option, edit=None) for option in control.options)
            return replace(control, options=options)
        return None if isinstance(control, Action) and not fits(control.edit) else control

    return replace(group, controls=tuple(filter(None, map(checked, group.controls))))


def _bone(one: ConstructAssessment, knowledge: Knowledge) -> tuple[Control, ...]:
    bone, spec, target = one.construct.bone, one.layout.bone, one.target
    options = tuple(
        Option(name, entry.label, None, asks="" if name == bone.name else f"other-bones/{name}?construct={target}")
        for name, entry in knowledge.catalogue.bones.items()
    )
    edit = SetBone(target=target, bone=bone)
    length = Number(
        "bone-length", "Length", "mm", bone.length_mm, *spec.length_range_mm, 1, EditForm(edit, "bone.length_mm"),
        f"≈ {one.layout.shape.length_mm:.0f}",
    )  # fmt: skip
    depth = Number(
        "bone-depth", f"Mid-shaft, {ACROSS[spec.depth_axis]}", "mm", bone.midshaft_depth_mm, *spec.depth_range_mm, 0.5,
        EditForm(edit, "bone.midshaft_depth_mm"), f"≈ {typical_midshaft_depth(spec.profile):.0f}",
    )  # fmt: skip
    left_or_right = (Option(key, words, SetSide(target=target, side=key)) for key, words in BODY_SIDES.items())
    sides = (Option("", "not said", SetSide(target=target, side=None)), *left_or_right)
    side = Choice("bone-side", "Side", bone.side or "", sides)
    return Choice("bone-name", "Bone", bone.name, options), side, length, depth


def _quality(assessment: Assessment, knowledge: Knowledge) -> Choice:
    options = tuple(
        Option(key, quality.label, SetQuality(bone_quality=key))
        for key, quality in knowledge.catalogue.qualities.items()
    )
    return Choice("bone-quality", "Bone quality", assessment.case.bone_quality, options)


def _code(one: ConstructAssessment) -> Choice:
    """Codes of this bone: taking one draws its pattern, or only names what is drawn."""
    construct, target = one.construct, one.target
    bone, value = construct.bone.name, construct.fracture.code or ""
    codes = [ALL_CODES[PREFIXES[bone] + pattern] for pattern in patterns_of(bone)]
    none = Option("", "no code", SetCode(target=target, code=None))
    draw = tuple(
        Option(
            code.text,
            f"{code.text} {code.name}",
            None,
            "Draw",
            asks=f"patterns/{code.text}?construct={target}",
        )
        for code in codes
    )
    only = tuple(
        Option(
            f"only-{code.text}",
            f"{code.text}, keep the drawing",
            SetCode(target=target, code=code.text),
            "Only the code",
        )
        for code in codes
    )
    other = (Option(value, f"{value} (another bone)", None),) if value and value not in {c.text for c in codes} else ()
    return Choice("fracture-code", "AO/OTA code", value, (none, *other, *draw, *only))


def _principle(one: ConstructAssessment) -> Choice:
    options = tuple(
        Option(key, words, SetPrinciple(target=one.target, principle=key)) for key, words in PRINCIPLES.items()
    )
    return Choice("principle", "Principle", one.construct.principle, options)


def _gap(one: ConstructAssessment) -> Number:
    form = lacking(SetGap, "gap_mm", target=one.target)
    return Number("gap", "Gap left", "mm", one.construct.fracture.gap_mm, 0, 20, 0.5, form)


def _wedge(one: ConstructAssessment) -> tuple[Control, ...]:
    wedge = one.construct.fracture.wedge
    sides = tuple(Option(side, words, wedge_on(one, side)) for side, words in SIDES.items())
    choice = Choice(
        "wedge-side",
        "Wedge",
        "" if wedge is None else wedge.side,
        (Option("", "no wedge", SetWedge(target=one.target, wedge=None)), *sides),
    )
    if wedge is None:
        return (choice,)
    form = EditForm(wedge_on(one, wedge.side), "wedge.length_mm")
    number = Number("wedge-length", "Wedge length", "mm", wedge.length_mm, 5, 120, 1, form)
    at = tuple(
        Option(str(i), f"line {i + 1}", wedge_on(one, wedge.side, i)) for i in range(len(one.construct.fracture.lines))
    )
    return (choice, number, *((Choice("wedge-line", "Wedge at", str(wedge.line), at),) if len(at) > 1 else ()))


def _lines(one: ConstructAssessment) -> tuple[Group, ...]:
    lines = one.construct.fracture.lines
    groups = [
        Group(f"line-{i}", f"Fracture line {i + 1}" if len(lines) > 1 else "Fracture line", _line(one, i))
        for i in range(len(lines))
    ]
    edit = new_line(one)
    if edit is not None:
        last, added = groups[-1], Action("line-add", "Add a fracture line", edit)
        groups[-1] = Group(last.id, last.title, (*last.controls, added))
    return tuple(groups)


def _line(one: ConstructAssessment, i: int) -> tuple[Control, ...]:
    line, room = one.construct.fracture.lines[i], ranges(one.construct, one.layout.shape, one.layout.series)
    here = {"target": one.target, "line": i}
    controls: list[Control] = [
        Number(f"line-{i}-position", "Position", "mm", line.position_mm, *room.lines[i], 1,
               lacking(MoveFracture, "position_mm", **here)),
        Number(f"line-{i}-obliquity", "Obliquity", "°", line.obliquity_deg, -75, 75, 1,
               lacking(SetObliquity, "obliquity_deg", **here)),
        Number(f"line-{i}-turn", "Turned about the shaft", "°", line.turn_deg, -90, 90, 1,
               lacking(SetTurn, "turn_deg", **here)),
        *_course(one, i),
        Number(f"line-{i}-zone", "Zone length", "mm", line.zone_mm, *room.zones[i], 1,
               lacking(SetZone, "zone_mm", **here)),
    ]  # fmt: skip
    if len(one.construct.fracture.lines) > 1:
        controls.append(Action(f"line-{i}-remove", f"Remove line {i + 1}", RemoveLine(**here)))
    return tuple(controls)


def _course(one: ConstructAssessment, i: int) -> tuple[Control, ...]:
    """Whether a line winds round the shaft; obliquity and turn go on meaning the plane nearest to it."""
    ways = tuple(Option(way, words, SetSpiral(target=one.target, line=i, spiral=way)) for way, words in WINDING.items())
    plain = Option("", "one plane", SetSpiral(target=one.target, line=i, spiral=None))
    winds = one.construct.fracture.lines[i].spiral
    choice = Choice(f"line-{i}-course", "Course", winds or "", (plain, *ways))
    laid = one.layout.fracture.lines[i].spiral  # a line with a wedge, or square to the shaft, does not wind
    return (choice, Told(f"line-{i}-judged", "Judged as", *(JUDGED if laid else NOT_WINDING))) if winds else (choice,)


def _plate(one: ConstructAssessment, surface: tuple[Control, ...], knowledge: Knowledge) -> tuple[Control, ...]:
    plate, series, target = one.construct.plate, one.layout.series, one.target
    low, high = ranges(one.construct, one.layout.shape, series).plate_centre
    kinds = tuple(_series_option(one, entry) for entry in knowledge.catalogue.series.values())
    counts = tuple(
        Option(str(holes), f"{holes} ({plate_length(series, holes):.0f} mm)", plate_of_holes(one, series, holes))
        for holes in series.holes_made
    )
    return (
        Choice("plate-series", "Series", series.key, kinds),
        Choice("plate-holes", "Holes", str(plate.holes), counts),
        *surface,
        _tension(one),
        Number("plate-centre", "Centre", "mm", plate.centre_mm, low, high, 1,
               lacking(MovePlate, "centre_mm", target=target)),
        Number("plate-standoff", "Stand-off", "mm", plate.standoff_mm, 0, 20, 0.5,
               lacking(SetStandoff, "standoff_mm", target=target)),
        Number("plate-prebend", "Pre-bend", "mm", plate.prebend_mm, 0, 10, 0.5,
               lacking(SetPrebend, "prebend_mm", target=target)),
    )  # fmt: skip


def _surface_edits(
    assessment: Assessment, one: ConstructAssessment, knowledge: Knowledge
) -> dict[Surface | None, SetSurface | None]:
    """The edits that lay the plate on another surface of the bone, None where the fracture does not allow it."""
    offered: tuple[Surface | None, ...] = (None, *SURFACES[one.construct.bone.name])
    edits = {surface: SetSurface(target=one.target, surface=surface) for surface in offered}
    return {surface: edit if accepted(assessment.case, edit, knowledge) else None for surface, edit in edits.items()}


def _surface(one: ConstructAssessment, edits: dict[Surface | None, SetSurface | None]) -> tuple[Control, ...]:
    """Which surface of the bone the plate lies on, where the bone offers more than one."""
    usual, *others = SURFACES[one.construct.bone.name]
    if not others:
        return ()
    options = (
        Option("", f"not said ({usual} is usual)", edit) if name is None else Option(name, name.capitalize(), edit)
        for name, edit in edits.items()
    )
    return (Choice("plate-surface", "Surface", one.construct.plate.surface or "", tuple(options)),)


def _tension(one: ConstructAssessment) -> Told:
    """Whether the plate lies on the bone's tension side, and who says so."""
    told = one.layout.bone.tension[one.construct.surface]
    figure = told.figure
    standing = "" if figure.source.startswith(figure.standing) else f" ({figure.standing})"
    source = f"{capitalised(figure.source)}{standing}."
    return Told("plate-tension", "Tension side", TENSION[told.word], source)


def _series_option(one: ConstructAssessment, series: PlateSeries) -> Option:
    edit = plate_of_series(one, series)
    return Option(series.key, f"{series.label} (too long)" if edit is None else series.label, edit)


def blank_construct(bone: str, knowledge: Knowledge) -> Construct:
    """A new construct of this bone."""
    return _blanks(knowledge)[bone]


@lru_cache(maxsize=4)
def _blanks(knowledge: Knowledge) -> dict[str, Construct]:
    """A new construct of every bone: asked for at every redraw, the same as long as the server runs."""
    return {
        bone: blank_case(spec.label, bone, knowledge).constructs[0] for bone, spec in knowledge.catalogue.bones.items()
    }
