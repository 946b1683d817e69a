"""Between what a figure lies, over what is not known."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Any

from app.figures.figure import Figure, Of
from app.figures.mechanics import CONTACT, MOTION, PEAK_AT, PLATE, STIFFNESS, WORST
from app.mechanics import MechanicsResult

OF_ALL = (*STIFFNESS, *(figure for figure in PLATE if figure is not PEAK_AT), *WORST)  # a place is no amount


@dataclass(frozen=True, slots=True)
class Band:
    """Least and greatest of a figure over all draws and the usual one; ``lacking``: in how many it has no number."""

    low: float
    high: float
    lacking: int = 0
    of: int = 0


def band(figure: Figure[Of], found: Iterable[Of]) -> Band | None:
    """The band of a figure; None where it has a number in none of those found."""
    values = [figure.read(one) for one in found]
    numbers = [value for value in values if value is not None and not isinstance(value, str)]
    return Band(min(numbers), max(numbers), len(values) - len(numbers), len(values)) if numbers else None


def same_way(usual: float, each: Iterable[float | None]) -> int:
    """How many of the changes, one a draw, go the way of the usual one; None: one that can't be told."""
    return sum(change is not None and change * usual > 0 for change in each)


def band_text(figure: Figure[Of], found: Band) -> str:
    """The band in words, without the unit, which stands with the figure; empty where both ends look the same."""
    worded = figure.ways is not None and found.low * found.high >= 0
    ends = sorted((abs(found.low), abs(found.high))) if worded else [found.low, found.high]
    low, high = (figure.written(end) for end in ends)
    rest = f", none in {found.lacking} of {found.of}" if found.lacking else ""
    return f"{low} to {high}{rest}" if low != high or rest else ""


@dataclass(frozen=True, slots=True)
class Banded:
    """A figure of a solved construct with its band; ``line`` is the index of its fracture line, None for the whole."""

    figure: Figure[Any]
    line: int | None
    band: Band


def banded(usual: MechanicsResult, drawn: tuple[MechanicsResult, ...]) -> Iterator[Banded]:
    """Every figure that is a number, with its band over the usual answer and all draws; none without draws."""
    found = (usual, *drawn)
    if not drawn:
        return
    for figure in OF_ALL:
        one = band(figure, found)
        if one is not None:
            yield Banded(figure, None, one)
    for number in range(len(usual.lines)):
        for of_line in (*MOTION, *CONTACT):
            one = band(of_line, [each.lines[number] for each in found])
            if one is not None:
                yield Banded(of_line, number, one)
