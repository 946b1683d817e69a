"""Contouring: everything that a plate has to be bent, the pre-bend included, and its underside to bend against."""

import math
from dataclasses import dataclass
from itertools import pairwise

from app.geometry.bends import Across, Bend
from app.geometry.construct import Layout
from app.geometry.fracture import TOUCH_MM, Point


@dataclass(frozen=True, slots=True)
class Prebend:
    """The sharp bend over the fracture that comes on top of the contour; its middle stands off the bone.

    Attributes:
        s_mm: where along the shaft.
        angle_deg: by how much the plate turns there; negative, as it turns the plate's ends towards the bone.
        holes: the holes that it lies between; one hole where it lies within that, or beyond the last one.
    """

    s_mm: float
    angle_deg: float
    holes: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Contour:
    """What a straight plate is made to follow.

    ``stands_off_mm`` is how far it would stand off unbent. ``bends`` are those of the contour, between neighbouring
    holes; ``prebends`` come on top of them. ``shut`` are the stretches of plate (``s``) that are never bent: its holes.
    ``across`` is the bow across its width, which bending does not mend.
    """

    stands_off_mm: float
    bends: tuple[Bend, ...]
    prebends: tuple[Prebend, ...]
    shut: tuple[tuple[float, float], ...]
    across: Across

    @property
    def turn_deg(self) -> float:
        """By how much the plate turns from its first hole to its last, without the pre-bend (signed)."""
        return sum(bend.angle_deg for bend in self.bends)

    @property
    def bent_deg(self) -> float:
        """All bends of the contour together, whichever way each goes."""
        return sum(abs(bend.angle_deg) for bend in self.bends)

    @property
    def prebend_deg(self) -> float:
        """How sharp the pre-bend is, without its sign."""
        return sum(abs(bend.angle_deg) for bend in self.prebends)


def contour_of(layout: Layout) -> Contour:
    """Everything that the plate of a construct has to be bent."""
    half = layout.series.slot_mm / 2
    shut = tuple((hole.s_mm - half, hole.s_mm + half) for hole in layout.holes)
    return Contour(layout.contour_mm, layout.bends, prebends_of(layout), shut, layout.across)


def prebends_of(layout: Layout) -> tuple[Prebend, ...]:
    """The pre-bend as an angle.

    The plate's middle stands ``p`` off the bone while its ends, at the distances ``l1`` and ``l2`` from the bend, touch
    it: the legs meet at p/l1 + p/l2 (small angles). The bend lies over the fracture line nearest to the plate's middle,
    or under that middle where the line lies beyond the plate; two lines as near as each other share it.
    """
    plate, lines = layout.construct.plate, layout.fracture.lines
    if not plate.prebend_mm:
        return ()
    away = [abs(line.position_mm - plate.centre_mm) for line in lines]
    places = [line.position_mm for line, mm in zip(lines, away, strict=True) if mm <= min(away) + TOUCH_MM]
    low, high = layout.plate_ends_mm
    inside = [s for s in places if low < s < high] or [plate.centre_mm]
    return tuple(
        Prebend(
            s,
            -math.degrees(plate.prebend_mm / (s - low) + plate.prebend_mm / (high - s)) / len(inside),
            _holes_at(layout, s),
        )
        for s in inside
    )


def _holes_at(layout: Layout, s_mm: float) -> tuple[int, ...]:
    """The hole that a place lies within, or else the holes beside it."""
    within = [hole.number for hole in layout.holes if abs(hole.s_mm - s_mm) < layout.series.slot_mm / 2]
    if within:
        return (within[0],)
    before = [hole.number for hole in layout.holes if hole.s_mm < s_mm]
    behind = [hole.number for hole in layout.holes if hole.s_mm > s_mm]
    return (*before[-1:], *behind[:1])


@dataclass(frozen=True, slots=True)
class Underside:
    """The plate's underside as a line to bend against, mm: ``x`` to the distal end, ``y`` away from the bone.

    Straight through each hole and bent half-way between two, so that its length is the plate's own. The middles of the
    first and the last hole lie at ``y`` 0, as far to either side of ``x`` 0 as each other.

    Attributes:
        points: its corners, from end to end.
        holes: where the holes' middles lie on it.
        corners: where it is bent between two holes, as many as there are bends of the contour.
    """

    points: tuple[Point, ...]
    holes: tuple[Point, ...]
    corners: tuple[Point, ...]


def underside(layout: Layout, *, prebent: bool = False) -> Underside:
    """The line of the contoured plate; ``prebent``: with the pre-bend on top, over the fracture."""
    turns = _turns(layout, prebent)
    low, high = layout.plate_ends_mm
    # walk from end to end, turning at each bend; the direction at the first hole is put right afterwards
    stops = sorted({low, high, *(hole.s_mm for hole in layout.holes), *turns})
    at, lean, walked = (0.0, 0.0), 0.0, {low: (0.0, 0.0)}
    for here, there in pairwise(stops):
        lean += math.radians(turns.get(here, 0.0))
        at = at[0] + (there - here) * math.cos(lean), at[1] + (there - here) * math.sin(lean)
        walked[there] = at
    laid = _laid(walked, layout.holes[0].s_mm, layout.holes[-1].s_mm)
    bent = [(one.s_mm + other.s_mm) / 2 for one, other in pairwise(layout.holes)]
    return Underside(
        tuple(laid[s] for s in stops),
        tuple(laid[hole.s_mm] for hole in layout.holes),
        tuple(laid[s] for s in bent),
    )


def _turns(layout: Layout, prebent: bool) -> dict[float, float]:
    """By how many degrees the line turns, by the ``s`` where it does."""
    turns = {
        (one.s_mm + other.s_mm) / 2: bend.angle_deg
        for (one, other), bend in zip(pairwise(layout.holes), layout.bends, strict=True)
    }
    for bend in prebends_of(layout) if prebent else ():
        turns[bend.s_mm] = turns.get(bend.s_mm, 0.0) + bend.angle_deg
    return turns


def _laid(walked: dict[float, Point], first: float, last: float) -> dict[float, Point]:
    """The same line turned and moved, so that its first and last hole lie level about the origin."""
    (x1, y1), (x2, y2) = walked[first], walked[last]
    span = math.hypot(x2 - x1, y2 - y1) or 1.0
    cos, sin = ((x2 - x1) / span, (y2 - y1) / span) if (x1, y1) != (x2, y2) else (1.0, 0.0)
    mx, my = (x1 + x2) / 2, (y1 + y2) / 2
    return {s: ((x - mx) * cos + (y - my) * sin, (y - my) * cos - (x - mx) * sin) for s, (x, y) in walked.items()}
