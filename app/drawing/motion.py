"""Where everything lies after a step of the operation: fragments moved, plate raised, the screws that are in.

Lengths in mm, angles in degrees. Nothing is worked out here: the amounts are those of ``app.order.states``; ``times``
draws them larger than they are, gaps and stand-off included, so that what touches still touches.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

from app.geometry import Layout, Passage, ScrewPath
from app.order import Offset, State, order_of
from app.order.roles import Placed, placed_screws

Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Motion:
    """A fragment's way from its planned place: turned about the pivot, then shifted (``y`` towards the plate)."""

    ds_mm: float
    dy_mm: float
    rotation_deg: float
    pivot: Point

    def at(self, point: Point) -> Point:
        """Where a point of the fragment comes to lie."""
        turn = math.radians(self.rotation_deg)
        s, y = point[0] - self.pivot[0], point[1] - self.pivot[1]
        return (
            self.pivot[0] + s * math.cos(turn) - y * math.sin(turn) + self.ds_mm,
            self.pivot[1] + s * math.sin(turn) + y * math.cos(turn) + self.dy_mm,
        )


def resting(layout: Layout, state: State) -> int:
    """Index of the fragment that stands still: the one that the plate is fixed to first, or will be."""
    placed = placed_screws(layout)
    order = (*state.screws, *order_of(layout))
    return next((placed[name].fragment for name in order if placed[name].on_plate), 0)


def motions(layout: Layout, state: State, times: float) -> tuple[Motion, ...]:
    """One for each fragment, in their order."""
    still = resting(layout, state)
    return tuple(_motion(layout, still, index, offset, times) for index, offset in enumerate(state.offsets))


def planned(layout: Layout, state: State, times: float) -> tuple[Motion, ...]:
    """Where the fragments were planned to lie: off their place only by what the gaps are drawn larger."""
    unmoved = tuple(replace(o, ds_mm=0.0, dy_mm=0.0, rotation_deg=0.0) for o in state.offsets)
    return motions(layout, replace(state, offsets=unmoved), times)


def _motion(layout: Layout, still: int, index: int, offset: Offset, times: float) -> Motion:
    between = range(min(still, index), max(still, index))
    gaps = sum(layout.fracture.lines[i].width_mm for i in between if layout.fracture.lines[i].zone_mm == 0)
    opened = math.copysign((times - 1) * gaps, index - still) if index != still else 0.0
    return Motion(times * offset.ds_mm + opened, times * offset.dy_mm, times * offset.rotation_deg, offset.pivot)


def bend_mm(layout: Layout) -> float:
    """``s`` of the pre-bend: over the line nearest the plate's middle."""
    return layout.fracture.line_at(layout.construct.plate.centre_mm).position_mm


def raised_by(layout: Layout, state: State, moved: tuple[Motion, ...], times: float) -> Callable[[float], float]:
    """How far above its planned place the plate's underside lies at ``s``.

    The pre-bend is sharp and over the line nearest the plate's middle. Until both sides are drawn to it the plate's
    ends touch and its middle stands off; then each leg lies along its own fragment.
    """
    line = layout.fracture.line_at(layout.construct.plate.centre_mm)
    bend = bend_mm(layout)
    low, high = layout.plate_ends_mm
    level = times * state.plate_gap_mm - layout.construct.plate.standoff_mm
    flush = not state.plate_bow_mm or any(offset.rotation_deg for offset in state.offsets)

    def raised(s: float) -> float:
        if flush:
            leg = moved[line.index if s <= bend else line.index + 1]
            return level + math.tan(math.radians(leg.rotation_deg)) * (s - bend)
        leg_mm, end = (bend - low, s - low) if s <= bend else (high - bend, high - s)
        return level + times * state.plate_bow_mm * max(0.0, end) / leg_mm if leg_mm > 0 else level

    return raised


def screws_in(
    layout: Layout, state: State, moved: tuple[Motion, ...], raised: Callable[[float], float]
) -> tuple[ScrewPath, ...]:
    """The screws that are in, each with its head in the plate and its thread in the fragments that it holds."""
    placed = placed_screws(layout)
    return tuple(_carried(layout, placed[s.id], moved, raised) for s in layout.screws if s.id in state.screws)


def _carried(layout: Layout, one: Placed, moved: tuple[Motion, ...], raised: Callable[[float], float]) -> ScrewPath:
    screw, own = one.screw, moved[one.fragment]
    of = {fragment.name: moved[fragment.index] for fragment in layout.fracture.fragments}
    first = of.get(screw.passages[0].owner, own) if screw.passages else own
    head = first.at(screw.head)
    if screw.hole is not None:
        head = (screw.head[0] + first.ds_mm, screw.head[1] + raised(screw.head[0]))
    return replace(
        screw,
        head=head,
        tip=own.at(screw.tip),
        lean_deg=screw.lean_deg + own.rotation_deg,
        passages=tuple(_passed(passage, of.get(passage.owner, own)) for passage in screw.passages),
    )


def _passed(passage: Passage, by: Motion) -> Passage:
    return replace(passage, entry=by.at(passage.entry), exit=by.at(passage.exit))
