"""All ways to fill the holes of a plate, in groups whose layouts share one set of nodes.

A layout is a number: bit k says whether the k-th of the holes that may be filled is. Which nodes a construct has
depends on few of its screws only: those that hold bone beyond a fracture line, or at a face; holes between them and
the line lie at the line then. Every state of such screws, of whatever else lies at a line, and of lag screws is a group
of its own; all other holes lie on one fragment and are free within their group.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from app.mechanics.layout import CrossedLinesError, Layout, lay_out, shaping_holes
from app.mechanics.model import Construct, Screw


@dataclass(frozen=True, slots=True)
class Group:
    """Layouts with the same nodes.

    Attributes:
        construct: the construct with every screw that some layout of the group has.
        layout: its nodes.
        filled: indices of the holes that are filled in all of them.
        free: indices of the holes that may be filled or not.
        screws: the screw of each hole of the construct.
    """

    construct: Construct
    layout: Layout
    filled: frozenset[int]
    free: frozenset[int]
    screws: dict[int, Screw]


@dataclass(frozen=True, slots=True)
class Left:
    """Layouts that cannot be computed together, and why: the holes filled; the free ones stand for either state."""

    filled: frozenset[int]
    free: frozenset[int]
    reason: str


def draws_together(screw: Screw) -> bool:
    """Whether a screw in a hole joins two fragments as a lag screw."""
    near, far = screw.near_fragment, screw.far_fragment
    return screw.kind == "lag" and near is not None and far is not None and near != far


def groups(construct: Construct) -> Iterator[Group | Left]:
    """All groups of a construct that has a screw in every hole that may be filled."""
    by_hole = {screw.hole_number - 1: screw for screw in construct.screws}
    shaping = shaping_holes(construct) | {hole for hole, screw in by_hole.items() if draws_together(screw)}
    for first in _subsets(sorted(shaping)):
        here = {hole: screw for hole, screw in by_hole.items() if hole not in shaping or hole in first}
        try:
            layout = lay_out(replace(construct, screws=tuple(here.values())))
        except CrossedLinesError as error:
            yield Left(first, frozenset(here) - first, f"not computed: {error}")
            continue
        at_line = {hole for line in layout.lines for hole in line.holes if hole in here} - shaping
        for second in _subsets(sorted(at_line)):
            gone = at_line - second
            screws = {hole: screw for hole, screw in here.items() if hole not in gone}
            whole = replace(construct, screws=tuple(screws.values()))
            filled = first | second
            yield Group(whole, layout, filled, frozenset(screws) - filled, screws)


def _subsets(holes: list[int]) -> Iterator[frozenset[int]]:
    for number in range(1 << len(holes)):
        yield frozenset(hole for k, hole in enumerate(holes) if number >> k & 1)
