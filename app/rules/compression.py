"""Compression by the plate: which side first, how many eccentric screws, and the pre-bend."""

from collections.abc import Iterator
from dataclasses import dataclass

from app.case.edits import SetGap, SetOrder, SetPrebend, SetPrinciple, SingleEdit
from app.geometry import Line, ScrewPath
from app.rules.after import after, first_sound
from app.rules.edits import holes, remedy, role_edit
from app.rules.faces import main_line_edits
from app.rules.facts import (
    CLAMPING,
    bend_mm,
    catches_wedge,
    firm,
    holding_screws,
    lag_fault,
    lags,
    obtuse_side,
    pressed,
    presses_main_line,
    wants_bend,
)
from app.rules.registry import Finding, Level, Registry, Remedy, RuleInput
from app.rules.trial import holds_fragment

COMPRESSION_RULES = Registry()


@dataclass(frozen=True, slots=True)
class Side:
    """Plate screws in the fragment on one side of a line, the nearest to the line first; lag screws left out."""

    fragment: int
    name: str
    screws: tuple[ScrewPath, ...]

    @property
    def clamping(self) -> tuple[ScrewPath, ...]:
        """Neutral and eccentric screws."""
        return tuple(screw for screw in self.screws if screw.role in CLAMPING)

    @property
    def eccentric(self) -> tuple[ScrewPath, ...]:
        """Eccentric screws."""
        return tuple(screw for screw in self.screws if screw.role == "eccentric")

    @property
    def neutral(self) -> tuple[ScrewPath, ...]:
        """Neutral screws."""
        return tuple(screw for screw in self.screws if screw.role == "neutral")


def sides(judged: RuleInput, line: Line) -> tuple[Side, Side]:
    """The proximal and the distal side of a line; a screw between two lines counts with the nearer one."""
    made = []
    for index in (line.index, line.index + 1):
        name = judged.layout.fracture.fragments[index].name
        own = [screw for screw in holding_screws(judged, name) if judged.layout.fracture.line_at(screw.s_mm) is line]
        own.sort(key=lambda screw: abs(screw.s_mm - line.position_mm))
        made.append(Side(index, name, tuple(own)))
    return made[0], made[1]


def _compressed_lines(judged: RuleInput) -> list[Line]:
    return list(judged.layout.fracture.lines) if judged.construct.principle == "compression" else []


@COMPRESSION_RULES.rule(
    "first-screw-side",
    "caution",
    says="In an oblique fracture the neutral screw next to it holds the fragment with the obtuse corner at the plate; "
    "the eccentric one pulls the other.",
    why="Plate and obtuse corner form an axilla (a pocket) that catches the other fragment's tip when it is drawn in. "
    "Fixed the other way round, the fragment slides along the line, away from the plate.",
    source="AO Surgery Reference, application of compression plates to oblique fractures",
    standing="handbook",
    on="humans",
)
def first_screw_side(judged: RuleInput) -> Iterator[Finding]:
    """Eccentric screws on the obtuse side; under compression, the nearest neutral screw on the acute side."""
    for line in judged.layout.fracture.lines:
        index = obtuse_side(line)
        if index is None:
            continue
        pair = sides(judged, line)
        obtuse, acute = pair if index == line.index else pair[::-1]
        corner = f"the {obtuse.name} fragment has the obtuse corner ({abs(line.obliquity_deg):.0f}°)"
        if obtuse.eccentric:
            numbers = [screw.hole for screw in obtuse.eccentric if screw.hole is not None]
            message = f"Eccentric in {holes(sorted(numbers))}, but {corner}: it should be fixed first and stand still."
            yield Finding(
                message,
                (*(s.id for s in obtuse.eccentric), f"line-{line.index}"),
                None,
                _exchange(judged, obtuse, acute),
            )
        elif acute.neutral and judged.construct.principle == "compression" and _nearest_is_acute(line, obtuse, acute):
            screw = acute.neutral[0]
            message = f"The neutral screw nearest the fracture is in hole {screw.hole} ({acute.name}), but {corner}."
            # with no eccentric screw the order alone decides which side is fixed first
            level: Level | None = None if acute.eccentric else "note"
            yield Finding(message, (screw.id, f"line-{line.index}"), level, _exchange(judged, obtuse, acute))


def _nearest_is_acute(line: Line, obtuse: Side, acute: Side) -> bool:
    """Whether the acute side's innermost screw is neutral and nearer to the line than the obtuse side's."""
    first = acute.clamping[0]
    if first.role != "neutral":
        return False
    here = abs(first.s_mm - line.position_mm)
    return all(here < abs(screw.s_mm - line.position_mm) - 1e-6 for screw in obtuse.neutral)


def _exchange(judged: RuleInput, obtuse: Side, acute: Side) -> Remedy | None:
    """Obtuse side neutral throughout, the acute side's innermost screw eccentric and its others neutral."""
    if not obtuse.clamping or not acute.clamping or judged.layout.series.travel_mm <= 0:
        return None
    inner = acute.clamping[0]
    turned = [*obtuse.eccentric, *(screw for screw in acute.eccentric if screw is not inner)]
    edits: list[SingleEdit] = [role_edit(judged, s.hole, "neutral") for s in turned if s.hole is not None]
    if inner.role != "eccentric" and inner.hole is not None:
        edits.append(role_edit(judged, inner.hole, "eccentric"))
    label = f"Pull the {acute.name} side: eccentric in hole {inner.hole}"
    # an order of the user's own may have been made for the roles as they were
    derived = SetOrder(target=judged.target, order=None)
    anew = remedy(f"{label}, in the derived order", [*edits, derived]) if judged.construct.order is not None else None
    return first_sound(judged, [remedy(label, edits), anew])


@COMPRESSION_RULES.rule(
    "eccentric-count",
    "caution",
    says="Eccentric screws: one or two on one side, something to pull against on the other, and a gap they can close.",
    why="Each shifts its fragment by the hole's travel once; a second needs the first eased off, a third on one side "
    "adds little. Without a screw opposite the plate moves instead of the fragment.",
    source="on the bench (Injury 2011, abstract read) a second adds, a third only in turn with the other side, a "
    "fourth nothing; in combination holes the first neutral screw no longer seats fully after a second. Wheeless' "
    "Textbook of Orthopaedics: 1 mm each, rarely more than two, the first backed off for the second",
    standing="published",
    on="bench",
)
def eccentric_count(judged: RuleInput) -> Iterator[Finding]:
    """Count, counter-screw, travel against gap, and a wedge under the plate."""
    for line in _compressed_lines(judged):
        pair = sides(judged, line)
        for side, other in (pair, pair[::-1]):
            yield from _too_many(judged, side)
            yield from _no_counter(judged, line, side, other)
        yield from _gap_too_wide(judged, line, pair)
        yield from _both_acute(judged, line, pair)
    yield from _nothing_presses(judged)


def _too_many(judged: RuleInput, side: Side) -> Iterator[Finding]:
    most = int(judged.thresholds.value("eccentric-count", "max_per_side"))
    count = len(side.eccentric)
    ids = tuple(sorted(screw.id for screw in side.eccentric))
    if count > most:
        extra = [screw.hole for screw in side.eccentric[most:] if screw.hole is not None]
        way = remedy(f"Neutral in {holes(sorted(extra))}", [role_edit(judged, n, "neutral") for n in extra])
        yield Finding(f"{count} eccentric screws in the {side.name} fragment; rarely more than {most}.", ids, None, way)


def _no_counter(judged: RuleInput, line: Line, side: Side, other: Side) -> Iterator[Finding]:
    if not side.eccentric or holding_screws(judged, other.name):
        return
    message = f"Nothing holds the plate to the {other.name} fragment, so the eccentric screws opposite pull on nothing."
    ids = tuple(sorted(screw.id for screw in side.eccentric))
    yield Finding(message, (*ids, f"fragment-{other.name}", f"line-{line.index}"), "stop")


def _gap_too_wide(judged: RuleInput, line: Line, pair: tuple[Side, Side]) -> Iterator[Finding]:
    ids = tuple(sorted(screw.id for side in pair for screw in side.eccentric))
    travel = judged.layout.series.travel_mm * len(ids)
    if ids and line.zone_mm == 0 and line.width_mm > travel + 1e-9:
        message = (
            f"The gap of {line.width_mm:g} mm is wider than the {travel:g} mm that the eccentric screws can shift."
        )
        way = remedy("Reduce the fracture: gap 0 mm", [SetGap(target=judged.target, gap_mm=0.0)])
        level = firm(judged.layout.series.figures["travel_mm"].standing, "caution")
        yield Finding(message, (*ids, f"line-{line.index}"), level, way)


def _both_acute(judged: RuleInput, line: Line, pair: tuple[Side, Side]) -> Iterator[Finding]:
    """A wedge under the plate takes the corner of either side: no axilla can form."""
    wedge = judged.layout.fracture.wedge
    pulls = [screw for side in pair for screw in side.eccentric]
    if wedge is None or wedge.line != line.index or wedge.side != "near" or not pulls:
        return
    message = (
        "The wedge lies under the plate, so neither fragment's corner forms an axilla (a pocket) with it: lag and "
        "protect instead."
    )
    edits: list[SingleEdit] = [role_edit(judged, s.hole, "neutral") for s in pulls if s.hole is not None]
    edits.append(SetPrinciple(target=judged.target, principle="protection"))
    label = "Change to protection, all screws neutral"
    then = after(judged, *edits)
    if (
        then is not None
        and any(catches_wedge(then, screw) for screw in lags(then))
        and not presses_main_line(then, line)
    ):
        edits += main_line_edits(then, line)
        label += ", the main line lagged"
    ids = tuple(sorted(screw.id for screw in pulls))
    yield Finding(message, (*ids, "wedge"), None, remedy(label, edits))


def _nothing_presses(judged: RuleInput) -> Iterator[Finding]:
    """Lines that nothing closes; those with a zone and those with a lag screw that misses have rules of their own."""
    zone = judged.thresholds.value("principle-fit", "zone_from_mm")
    near, lines = judged.layout.fracture.line_at, _compressed_lines(judged)
    missing = [near(screw.s_mm) for screw in lags(judged) if lag_fault(judged, screw) is not None]
    for line in lines if judged.layout.screws else []:
        if line.zone_mm >= zone or line in missing or pressed(judged, line):
            continue
        what = "the fracture" if len(lines) == 1 else f"the line at {line.position_mm:.0f} mm"
        message = f"Compression is planned, but no screw presses {what}: none is eccentric there, none is a lag."
        yield Finding(message, (f"line-{line.index}",), None, first_sound(judged, _pulls(judged, line)))


def _pulls(judged: RuleInput, line: Line) -> Iterator[Remedy]:
    """Make a screw beside the line eccentric: on the acute side, or else distally first; the innermost first."""
    pair = sides(judged, line)
    if judged.layout.series.travel_mm <= 0 or not all(side.screws for side in pair):
        return
    obtuse = obtuse_side(line)
    for side in (side for side in pair[::-1] if side.fragment != obtuse):
        for screw in side.screws:
            # a locking screw will do as well: what goes in eccentrically is then a cortex screw, and goes in first
            if screw.hole is not None and holds_fragment(judged, screw.hole, "neutral"):
                yield _pull(judged, line, screw.hole)


def _pull(judged: RuleInput, line: Line, hole: int) -> Remedy:
    edits: list[SingleEdit] = [role_edit(judged, hole, "eccentric")]
    if not wants_bend(judged, line):
        return remedy(f"Make the screw in hole {hole} eccentric", edits)
    bend = bend_mm(judged)
    edits.append(SetPrebend(target=judged.target, prebend_mm=bend))
    return remedy(f"Make the screw in hole {hole} eccentric and pre-bend the plate {bend:g} mm", edits)


@COMPRESSION_RULES.rule(
    "prebend",
    "caution",
    says="A plate that compresses a transverse fracture is pre-bent by 1 to 2 mm over it.",
    why="Pulled tight, a straight plate closes the cortex beneath it and opens the far one. A small pre-bend presses "
    "the far one too; too much of it gaps the near one.",
    source="AO Surgery Reference, application of compression plates to transverse fractures: middle 1 to 2 mm off "
    "the bone; 1.5 mm gave the largest contact in plastic bone (Clin Biomech 2024, PMID 38401319). For eight holes 5 "
    "to 6.5° were best (Krapf and Hopf 1986), by calculation 2.6 to 3.4 mm: these conflict",
    standing="handbook",
    on="humans",
)
def prebend(judged: RuleInput) -> Iterator[Finding]:
    """Pre-bend of a plate with eccentric screws over a nearly transverse line; too much of it anywhere."""
    bend = judged.construct.plate.prebend_mm
    low, high = (judged.thresholds.value("prebend", name) for name in ("min_mm", "max_mm"))
    usual = bend_mm(judged)
    way = remedy(f"Pre-bend the plate {usual:g} mm", [SetPrebend(target=judged.target, prebend_mm=usual)])
    if bend > high:
        yield Finding(
            f"A pre-bend of {bend:g} mm is more than {high:g} mm: it gaps the near cortex.", ("plate",), None, way
        )
        return
    below = judged.thresholds.value("prebend", "transverse_below_deg")
    for line in _compressed_lines(judged):
        if wants_bend(judged, line) and any(side.eccentric for side in sides(judged, line)):
            message = (
                f"The plate is pre-bent {bend:g} mm over a line at {abs(line.obliquity_deg):.0f}°; below {below:g}° "
                f"it wants {low:g} to {high:g} mm, or the far cortex opens."
            )
            yield Finding(message, ("plate", f"line-{line.index}"), None, way)
