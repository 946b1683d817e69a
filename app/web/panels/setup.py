"""The set-up panel: bone, fracture, principle and plate as form controls."""

from dataclasses import replace
from functools import lru_cache

from app.assess import Assessment, ConstructAssessment, Knowledge
from app.case.codes import ALL_CODES, PREFIXES, patterns_of
from app.catalogue import PlateSeries
from app.geometry import hole_offsets, plate_length, ranges
from app.geometry.limits import END_MARGIN_MM
from app.suggest import accepted, blank_case, pattern_edit
from app.web.panels.controls import Action, Choice, Control, EditDocument, Group, Number, Option

PRINCIPLES = {
    "compression": "Compression",
    "protection": "Protection",
    "bridging": "Bridging",
}
SIDES = {"near": "Near cortex", "far": "Far cortex"}
WEDGE_LENGTH_MM = 25.0
NEW_LINE_ROOM_MM = 30.0
ALWAYS_FITS = {"set_code", "set_principle"}  # no need to try those


def setup_groups(assessment: Assessment, one: ConstructAssessment, knowledge: Knowledge) -> tuple[Group, ...]:
    """All groups of the set-up panel for one construct."""
    bone = Group("bone", "Bone", (*_bone(one, knowledge), _quality(assessment, knowledge)))
    others = (
        Group("pattern", "Fracture", (_code(one, knowledge), _principle(one), _gap(one), *_wedge(one))),
        *_lines(one),
        Group("plate", "Plate", _plate(one, knowledge)),
    )
    return (bone, *(_offered(group, assessment, knowledge) for group in others))


def _offered(group: Group, assessment: Assessment, knowledge: Knowledge) -> Group:
    """The group without what would be refused: an option can't be chosen then, a button is not there."""

    def fits(edit: EditDocument | None) -> bool:
        if edit is None or edit["op"] in ALWAYS_FITS:
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
        Option(name, entry.label, _together(f"Bone: {name}", _blank(target, name, knowledge)))
        for name, entry in knowledge.catalogue.bones.items()
    )
    edit: EditDocument = {"op": "set_bone", "target": target, "bone": bone.model_dump()}
    length = Number(
        "bone-length", "Length", "mm", bone.length_mm, *spec.length_range_mm, 1, edit, "bone.length_mm",
        f"≈ {one.layout.shape.length_mm:.0f}",
    )  # fmt: skip
    depth = Number(
        "bone-depth", "Mid-shaft depth", "mm", bone.midshaft_depth_mm, *spec.depth_range_mm, 0.5, edit,
        "bone.midshaft_depth_mm", f"≈ {one.layout.shape.depth(one.layout.shape.length_mm / 2):.0f}",
    )  # fmt: skip
    return Choice("bone-name", "Bone", bone.name, options), length, depth


def _quality(assessment: Assessment, knowledge: Knowledge) -> Choice:
    options = tuple(
        Option(key, quality.label, {"op": "set_quality", "bone_quality": key})
        for key, quality in knowledge.catalogue.qualities.items()
    )
    return Choice("bone-quality", "Bone quality", assessment.case.bone_quality, options)


def _code(one: ConstructAssessment, knowledge: Knowledge) -> Choice:
    """Codes of this bone: taking one draws its pattern, or only names what is drawn."""
    construct, target = one.construct, one.target
    bone, value = construct.bone.name, construct.fracture.code or ""
    codes = [ALL_CODES[PREFIXES[bone] + pattern] for pattern in patterns_of(bone)]
    name: EditDocument = {"op": "set_code", "target": target}
    none = Option("", "no code", {**name, "code": None})
    draw = tuple(
        Option(
            code.text,
            f"{code.text} {code.name}",
            _together(f"Draw {code.text}", pattern_edit(construct, target, code.pattern, knowledge)),
            "Draw",
        )
        for code in codes
    )
    only = tuple(
        Option(f"only-{code.text}", f"{code.text}, keep the drawing", {**name, "code": code.text}, "Only the code")
        for code in codes
    )
    other = (Option(value, f"{value} (another bone)", None),) if value and value not in {c.text for c in codes} else ()
    return Choice("fracture-code", "AO/OTA code", value, (none, *other, *draw, *only))


def _principle(one: ConstructAssessment) -> Choice:
    options = tuple(
        Option(key, words, {"op": "set_principle", "target": one.target, "principle": key})
        for key, words in PRINCIPLES.items()
    )
    return Choice("principle", "Principle", one.construct.principle, options)


def _gap(one: ConstructAssessment) -> Number:
    edit: EditDocument = {"op": "set_gap", "target": one.target}
    return Number("gap", "Gap left", "mm", one.construct.fracture.gap_mm, 0, 20, 0.5, edit, "gap_mm")


def _wedge(one: ConstructAssessment) -> tuple[Control, ...]:
    wedge = one.construct.fracture.wedge
    edit: EditDocument = {"op": "set_wedge", "target": one.target}
    length, line = (WEDGE_LENGTH_MM, 0) if wedge is None else (wedge.length_mm, wedge.line)

    def with_wedge(side: str, at: int) -> EditDocument:
        return {**edit, "wedge": {"side": side, "length_mm": length, "line": at}}

    sides = tuple(Option(side, words, with_wedge(side, line)) for side, words in SIDES.items())
    choice = Choice(
        "wedge-side",
        "Wedge",
        "" if wedge is None else wedge.side,
        (Option("", "no wedge", {**edit, "wedge": None}), *sides),
    )
    if wedge is None:
        return (choice,)
    number = Number(
        "wedge-length", "Wedge length", "mm", length, 5, 120, 1, with_wedge(wedge.side, line), "wedge.length_mm"
    )
    at = tuple(
        Option(str(i), f"line {i + 1}", with_wedge(wedge.side, i)) for i in range(len(one.construct.fracture.lines))
    )
    return (choice, number, *((Choice("wedge-line", "Wedge at", str(line), at),) if len(at) > 1 else ()))


def _lines(one: ConstructAssessment) -> tuple[Group, ...]:
    lines = one.construct.fracture.lines
    groups = [
        Group(f"line-{i}", f"Fracture line {i + 1}" if len(lines) > 1 else "Fracture line", _line(one, i))
        for i in range(len(lines))
    ]
    added = _new_line(one)
    if added is not None:
        last = groups[-1]
        groups[-1] = Group(last.id, last.title, (*last.controls, added))
    return tuple(groups)


def _line(one: ConstructAssessment, i: int) -> tuple[Control, ...]:
    line, room = one.construct.fracture.lines[i], ranges(one.construct, one.layout.shape, one.layout.series)
    here: EditDocument = {"target": one.target, "line": i}
    controls: list[Control] = [
        Number(f"line-{i}-position", "Position", "mm", line.position_mm, *room.lines[i], 1,
               {"op": "move_fracture", **here}, "position_mm"),
        Number(f"line-{i}-obliquity", "Obliquity", "°", line.obliquity_deg, -75, 75, 1,
               {"op": "set_obliquity", **here}, "obliquity_deg"),
        Number(f"line-{i}-zone", "Zone length", "mm", line.zone_mm, *room.zones[i], 1,
               {"op": "set_zone", **here}, "zone_mm"),
    ]  # fmt: skip
    if len(one.construct.fracture.lines) > 1:
        controls.append(Action(f"line-{i}-remove", f"Remove line {i + 1}", {"op": "remove_line", **here}))
    return tuple(controls)


def _new_line(one: ConstructAssessment) -> Action | None:
    """A button for one more line in the middle of the longest fragment, if there is room."""
    lines = one.layout.fracture.lines
    if len(lines) >= 4:
        return None
    starts = [END_MARGIN_MM, *(line.extent_mm[1] for line in lines)]
    ends = [*(line.extent_mm[0] for line in lines), one.layout.shape.length_mm - END_MARGIN_MM]
    room, start = max((end - start, start) for start, end in zip(starts, ends, strict=True))
    if room < NEW_LINE_ROOM_MM:
        return None
    value = {"position_mm": round(start + room / 2), "obliquity_deg": 0, "zone_mm": 0}
    return Action("line-add", "Add a fracture line", {"op": "add_line", "target": one.target, "value": value})


def _plate(one: ConstructAssessment, knowledge: Knowledge) -> tuple[Control, ...]:
    plate, series, target = one.construct.plate, one.layout.series, one.target
    low, high = ranges(one.construct, one.layout.shape, series).plate_centre
    kinds = tuple(_series_option(one, entry) for entry in knowledge.catalogue.series.values())
    counts = tuple(
        Option(str(holes), f"{holes} ({plate_length(series, holes):.0f} mm)", _set_plate(one, series, holes))
        for holes in series.holes_made
    )
    return (
        Choice("plate-series", "Series", series.key, kinds),
        Choice("plate-holes", "Holes", str(plate.holes), counts),
        Number("plate-centre", "Centre", "mm", plate.centre_mm, low, high, 1,
               {"op": "move_plate", "target": target}, "centre_mm"),
        Number("plate-standoff", "Stand-off", "mm", plate.standoff_mm, 0, 20, 0.5,
               {"op": "set_standoff", "target": target}, "standoff_mm"),
        Number("plate-prebend", "Pre-bend", "mm", plate.prebend_mm, 0, 10, 0.5,
               {"op": "set_prebend", "target": target}, "prebend_mm"),
    )  # fmt: skip


def _series_option(one: ConstructAssessment, series: PlateSeries) -> Option:
    """The same plate in another series: as many holes, or the nearest number made that fits the bone."""
    fits = [n for n in series.holes_made if plate_length(series, n) <= one.layout.shape.length_mm]
    wanted = one.construct.plate.holes
    holes = min(fits, key=lambda n: (abs(n - wanted), n), default=None)
    if holes is None:
        return Option(series.key, f"{series.label} (too long)", None)
    edit = {"op": "set_plate", "target": one.target, "series": series.key, "holes": holes}
    half = plate_length(series, holes) / 2
    centre = min(max(one.construct.plate.centre_mm, half), one.layout.shape.length_mm - half)
    return Option(series.key, series.label, {**edit, "centre_mm": round(centre, 3)})


def _set_plate(one: ConstructAssessment, series: PlateSeries, holes: int) -> EditDocument | None:
    """More or fewer holes at the distal end, hole 1 where it is as long as the bone allows."""
    half, length = plate_length(series, holes) / 2, one.layout.shape.length_mm
    if 2 * half > length:
        return None
    first = one.layout.holes[0].s_mm - hole_offsets(series, holes)[0]
    centre = round(min(max(first, half), length - half), 3)
    return {"op": "set_plate", "target": one.target, "series": series.key, "holes": holes, "centre_mm": centre}


def _together(label: str, edit: EditDocument) -> EditDocument:
    """The edit under a name that says more than it does itself."""
    return {"op": "together", "label": label, "edits": [edit]}


def _blank(target: int, bone: str, knowledge: Knowledge) -> EditDocument:
    return {"op": "replace_construct", "target": target, "value": blank_construct(bone, knowledge)}


def blank_construct(bone: str, knowledge: Knowledge) -> EditDocument:
    """A new construct of this bone as JSON data."""
    return _blanks(knowledge)[bone]


@lru_cache(maxsize=4)
def _blanks(knowledge: Knowledge) -> dict[str, EditDocument]:
    """A new construct of every bone: asked for at every redraw, the same as long as the server runs."""
    return {
        bone: blank_case(spec.label, bone, knowledge).constructs[0].model_dump(mode="json", exclude_defaults=True)
        for bone, spec in knowledge.catalogue.bones.items()
    }
