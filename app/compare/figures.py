"""The figures of one construct as lines of a table: what was chosen, what follows, screw by screw."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from app.assess import ConstructAssessment
from app.geometry import FragmentSummary, ScrewPath
from app.rules import LEVELS

Better = Literal["lower", "higher"]

NONE = "–"  # the figure has no meaning here
SETUP, WHOLE, FRAGMENT, SCREW, WARNED, LOAD, STIFFNESS, LINE, METAL, HOLD = range(10)  # groups, from top to bottom


@dataclass(frozen=True, slots=True)
class Figure:
    """One line for one construct.

    ``place`` orders the lines and, with the names, tells which belong together: group, part, line. ``value`` is the
    number as shown, None where there is none. ``better`` is given only where nobody would argue.
    """

    place: tuple[int, int, int]
    group: str
    name: str
    unit: str
    text: str
    value: float | None = None
    better: Better | None = None


@dataclass(frozen=True, slots=True)
class Group:
    """Makes the figures of one group or one part of it."""

    rank: int
    part: int
    name: str

    def number(
        self, line: int, name: str, unit: str, value: float | None, digits: int = 1, better: Better | None = None
    ) -> Figure:
        """A number, rounded as shown: what looks the same counts as the same."""
        if value is None:
            return Figure((self.rank, self.part, line), self.name, name, unit, NONE)
        shown = round(value, digits) + 0.0  # no minus before a zero
        return Figure((self.rank, self.part, line), self.name, name, unit, f"{shown:.{digits}f}", shown, better)

    def words(self, line: int, name: str, text: str) -> Figure:
        """Words."""
        return Figure((self.rank, self.part, line), self.name, name, "", text)


def yes(value: bool) -> str:
    """In words."""
    return "yes" if value else "no"


def figures(one: ConstructAssessment) -> Iterator[Figure]:
    """All figures but those of the mechanics."""
    yield from _setup(one)
    yield from _fracture(one)
    yield from _whole(one)
    for fragment in one.summary.fragments:
        yield from _fragment(fragment)
    for screw in one.layout.screws:
        yield from _screw(screw)
    yield from _warned(one)


def _setup(one: ConstructAssessment) -> Iterator[Figure]:
    made, plate = one.construct, one.construct.plate
    group = Group(SETUP, 0, "Chosen")
    yield group.words(0, "Bone", made.bone.name)
    yield group.number(1, "Bone length", "mm", one.layout.shape.length_mm, 0)
    yield group.words(2, "Principle", made.principle)
    yield group.words(3, "Plate", plate.series)
    yield group.number(4, "Holes", "", plate.holes, 0)
    yield group.number(5, "Middle of the plate", "mm", plate.centre_mm)
    yield group.number(6, "Stand-off", "mm", plate.standoff_mm)
    yield group.number(7, "Pre-bend", "mm", plate.prebend_mm)


def _fracture(one: ConstructAssessment) -> Iterator[Figure]:
    fracture = one.construct.fracture
    whole = Group(SETUP, 1, "Fracture")
    yield whole.words(0, "Code", fracture.code or NONE)
    yield whole.number(1, "Gap", "mm", fracture.gap_mm)
    wedge = fracture.wedge
    told = NONE if wedge is None else f"{wedge.side} side, {wedge.length_mm:.1f} mm, at line {wedge.line + 1}"
    yield whole.words(2, "Wedge", told)
    for number, line in enumerate(fracture.lines, 1):
        group = Group(SETUP, 1 + number, line_name(number))
        yield group.number(0, "Position", "mm", line.position_mm)
        yield group.number(1, "Obliquity", "°", line.obliquity_deg)
        yield group.number(2, "Zone", "mm", line.zone_mm)


def _whole(one: ConstructAssessment) -> Iterator[Figure]:
    summary = one.summary
    group = Group(WHOLE, 0, "Construct")
    yield group.number(0, "Bridging span", "mm", summary.bridging_span_mm)
    yield group.number(1, "Plate length", "mm", summary.plate_length_mm)
    yield group.number(2, "Plate span ratio", "", summary.plate_span_ratio)
    yield group.number(3, "Screw density", "", summary.screw_density, 2)
    yield group.words(4, "Holes over fracture", ", ".join(map(str, summary.holes_over_fracture)) or "none")
    yield group.number(5, "Travel", "mm", summary.travel_mm)


def _fragment(fragment: FragmentSummary) -> Iterator[Figure]:
    group = Group(FRAGMENT, _fragment_rank(fragment.name), f"{fragment.name.capitalize()} fragment")
    yield group.number(0, "Screws", "", fragment.screws, 0)
    yield group.number(1, "Cortices", "", fragment.cortices, 0)
    yield group.number(2, "Spread", "mm", fragment.spread_mm)
    yield group.number(3, "Nearest screw", "mm", fragment.nearest_screw_mm)
    yield group.number(4, "Holes", "", fragment.holes, 0)
    yield group.words(5, "Obtuse corner at the plate", yes(fragment.obtuse_at_plate))


def _fragment_rank(name: str) -> int:
    if name in ("proximal", "distal"):
        return 0 if name == "proximal" else 99
    number = name.rpartition("-")[2]
    return int(number) if number.isdigit() else 1


def _screw(screw: ScrewPath) -> Iterator[Figure]:
    group = Group(SCREW, screw_rank(screw.id), screw_name(screw.id))
    yield group.words(0, "Screw", screw.role)
    yield group.number(1, "Cortices held", "", screw.cortices_held, 0)
    yield group.number(2, "Length", "mm", screw.length_mm)
    yield group.number(3, "Length to take", "mm", screw.stock_length_mm, 0)
    yield group.number(4, "Tilt", "°", screw.tilt_deg)
    yield group.number(5, "Angle to fracture normal", "°", screw.angle_to_normal_deg)


def _warned(one: ConstructAssessment) -> Iterator[Figure]:
    # A stop says that the construct will not do what it claims: fewer are better. Cautions weigh too differently.
    group = Group(WARNED, 0, "Warnings")
    for line, level in enumerate(LEVELS):
        count = sum(warning.level == level for warning in one.warnings)
        yield group.number(line, level.capitalize(), "", count, 0, "lower" if level == "stop" else None)


def line_name(number: int) -> str:
    """Name of a fracture line, counted from 1."""
    return f"Fracture line {number}"


def screw_name(name: str) -> str:
    """A screw's id in words."""
    return f"Hole {name[1:]}" if name[0] == "h" else f"Lag screw {name[1:]}"


def screw_rank(name: str) -> int:
    """Holes in order, then the screws beside the plate."""
    return int(name[1:]) + (0 if name[0] == "h" else 100)
