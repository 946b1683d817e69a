"""The figures of one construct as lines of a table: what was chosen, what follows, screw by screw."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TypeVar

from app.assess import ConstructAssessment
from app.figures import Better, Figure
from app.figures.construct import CHOSEN, CONTOUR, FRACTURE, FRACTURE_LINE, FRAGMENT, SCREW, WARNED, WHOLE

SETUP, CONSTRUCT, BENT, PIECE, PLACED, WARNINGS, ASKED, STIFF, LINE, METAL, BORNE = range(11)  # groups, downwards
Of = TypeVar("Of")


@dataclass(frozen=True, slots=True)
class Line:
    """One figure of one construct.

    ``place`` orders the lines and, with the names, tells which belong together: group, part, line. ``value`` is the
    number as shown, None where there is none. ``better`` is given only where nobody would argue.
    """

    place: tuple[int, int, int]
    group: str
    name: str
    unit: str
    text: str
    value: float | None
    better: Better | None


@dataclass(frozen=True, slots=True)
class Group:
    """Makes the lines of one group or one part of it; ``first`` is the number of its first line."""

    rank: int
    part: int
    name: str
    first: int = 0

    def lines(self, table: tuple[Figure[Of], ...], of: Of) -> Iterator[Line]:
        """A line for each figure of a table."""
        for number, one in enumerate(table, self.first):
            place = self.rank, self.part, number
            yield Line(place, self.name, one.label, one.unit, one.text(of), one.shown(of), one.better)


def figures(one: ConstructAssessment) -> Iterator[Line]:
    """All figures but those of the mechanics."""
    fracture = one.construct.fracture
    yield from Group(SETUP, 0, CHOSEN[0].group).lines(CHOSEN, one.layout)
    yield from Group(SETUP, 1, FRACTURE[0].group).lines(FRACTURE, fracture)
    for number, line in enumerate(fracture.lines, 1):
        yield from Group(SETUP, 1 + number, line_name(number)).lines(FRACTURE_LINE, line)
    yield from Group(CONSTRUCT, 0, WHOLE[0].group).lines(WHOLE, one.summary)
    yield from Group(BENT, 0, CONTOUR[0].group).lines(CONTOUR, one.layout)
    for fragment in one.summary.fragments:
        name = f"{fragment.name.capitalize()} fragment"
        yield from Group(PIECE, _fragment_rank(fragment.name), name).lines(FRAGMENT, fragment)
    for screw in one.layout.screws:
        yield from Group(PLACED, screw_rank(screw.id), screw_name(screw.id)).lines(SCREW, screw)
    yield from Group(WARNINGS, 0, WARNED[0].group).lines(WARNED, one.warnings)


def _fragment_rank(name: str) -> int:
    if name in ("proximal", "distal"):
        return 0 if name == "proximal" else 99
    number = name.rpartition("-")[2]
    return int(number) if number.isdigit() else 1


def line_name(number: int) -> str:
    """Name of a fracture line, counted from 1."""
    return f"Fracture line {number}"


def screw_name(name: str) -> str:
    """A screw's id in words."""
    return f"Hole {name[1:]}" if name[0] == "h" else f"Independent lag screw {name[1:]}"


def screw_rank(name: str) -> int:
    """Holes in order, then the independent lag screws."""
    return int(name[1:]) + (0 if name[0] == "h" else 100)
