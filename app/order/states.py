"""Where plate and fragments lie after each step, so that it can be drawn; lengths in mm, angles in degrees.

The pieces are rigid (see ``app.order.progress``). Offsets are measured from the planned position, while the fragment
that was fixed to the plate first stands still.
"""

import math
from dataclasses import dataclass, replace

from app.geometry import Layout, Line
from app.order.actions import Action, actions, loose_pair, sequence_of
from app.order.progress import InsertionSequence, LineProgress, clearances, first_fixed, line_progress
from app.order.roles import Placed
from app.order.telling import tell

Shift = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Offset:
    """How far one fragment lies off its planned position.

    It is first turned about the pivot, then shifted.

    Attributes:
        fragment: name of the fragment.
        ds_mm: shift along the shaft, towards distal positive (mm).
        dy_mm: shift towards the plate (mm).
        rotation_deg: rotation, counter-clockwise with ``s`` to the right and the plate on top (degrees).
        pivot: the point (``s``, ``y``) it is turned about (mm).
    """

    fragment: str
    ds_mm: float
    dy_mm: float
    rotation_deg: float
    pivot: tuple[float, float]


@dataclass(frozen=True, slots=True)
class State:
    """The construct after one step.

    Attributes:
        step: number of the step.
        screws: ids of the screws that are in.
        lines: the fracture lines, from proximal to distal.
        offsets: the fragments, from proximal to distal.
        plate_gap_mm: clear distance between the plate and the fragment that stands still (mm).
        plate_bow_mm: what is left of the pre-bend under the plate's middle (mm).
        plate_turn_deg: angle by which the plate may turn with its only screw, seen from above, before the centre of its
            far end hole stands over the edge of the bone (degrees); 0 where it cannot turn.
        turns_about: id of that screw; None where the plate cannot turn.
        sentence: what the step has changed, in words.
    """

    step: int
    screws: tuple[str, ...]
    lines: tuple[LineProgress, ...]
    offsets: tuple[Offset, ...]
    plate_gap_mm: float
    plate_bow_mm: float
    plate_turn_deg: float
    turns_about: str | None
    sentence: str

    @property
    def slide_mm(self) -> float:
        """The longest slide along a fracture line (mm)."""
        return max(line.slide_mm for line in self.lines)

    @property
    def travel_used_mm(self) -> float:
        """Travel of the eccentric screws that has taken effect, all lines together (mm)."""
        return sum(line.travel_mm for line in self.lines)


def states(layout: Layout, order: tuple[str, ...] | None = None) -> tuple[State, ...]:
    """The state after each step of ``plan(layout, order)``, in the same order and with the same numbers.

    Raises:
        KeyError: the order names a screw that isn't placed.
    """
    sequence = sequence_of(layout, order)
    found: list[State] = []
    for number, action in enumerate(actions(layout, sequence), start=1):
        bare = _state(layout, number, action, sequence)
        found.append(replace(bare, sentence=tell(layout, action, bare.lines, bare.plate_turn_deg)))
    return tuple(found)


def _state(layout: Layout, number: int, action: Action, sequence: InsertionSequence) -> State:
    done, tight = action.sequence, action.tight
    lines = tuple(line_progress(layout, tight, line) for line in layout.fracture.lines)
    still = next((one.fragment for one in done if one.on_plate), 0)
    gaps = clearances(layout, tight)
    turn = _turn(layout, done, sequence)
    return State(
        step=number,
        screws=tuple(one.id for one in done),
        lines=lines,
        offsets=_offsets(layout, tight, lines, still, gaps),
        plate_gap_mm=gaps.get(still, layout.construct.plate.standoff_mm),
        plate_bow_mm=_bow(layout, action, lines),
        plate_turn_deg=turn,
        turns_about=next(one.id for one in done if one.on_plate) if turn else None,
        sentence="",
    )


def _bow(layout: Layout, action: Action, lines: tuple[LineProgress, ...]) -> float:
    """What is left of the pre-bend under the plate's middle (mm).

    All of it is left until both fragments lie flush on its legs; the kink then shows what is left of it.
    """
    prebend = layout.construct.plate.prebend_mm
    if action.kind in ("reduce", "contour") or not prebend:
        return 0.0
    line = layout.fracture.line_at(layout.construct.plate.centre_mm)
    low, high = layout.plate_ends_mm
    legs = line.position_mm - low, high - line.position_mm
    if min(legs) <= 0:
        return prebend  # the bend lies under the plate's middle; a line beyond its end can't use it up
    drawn = {one.fragment for one in action.tight if one.function in ("fix", "compress")}
    if not {line.index, line.index + 1} <= drawn:
        return prebend
    # the whole bend kinks the line by prebend / leg + prebend / leg; the kink left is its share of that
    return math.radians(lines[line.index].kink_deg) * legs[0] * legs[1] / (legs[0] + legs[1])


def _turn(layout: Layout, done: InsertionSequence, sequence: InsertionSequence) -> float:
    """Angle by which the plate may turn with a locking screw that alone holds it; 0 where that can't happen.

    tan(turn) = half the bone's width ÷ lever, both at the end hole farthest from the screw: at that angle the hole's
    centre stands over the edge of the bone.
    """
    plate = [one for one in done if one.on_plate]
    following = [one for one in sequence if one.on_plate][1:2]
    alone = bool(plate) and plate[0].function == "lock" and all(one.fragment == plate[0].fragment for one in plate)
    if not alone or loose_pair(sequence) or any(one.fragment != plate[0].fragment for one in following):
        return 0.0
    s = plate[0].screw.s_mm
    end = max(layout.holes, key=lambda hole: abs(hole.s_mm - s))
    return math.degrees(math.atan2(layout.shape.width(end.s_mm) / 2, abs(end.s_mm - s)))


def _offsets(
    layout: Layout, sequence: InsertionSequence, lines: tuple[LineProgress, ...], still: int, gaps: dict[int, float]
) -> tuple[Offset, ...]:
    """Sum the relative movements across the lines, outwards from the fragment that stands still."""
    return tuple(
        _offset(layout, sequence, lines, still, index, _lift(gaps, still, index))
        for index in range(len(layout.fracture.fragments))
    )


def _lift(gaps: dict[int, float], still: int, index: int) -> float:
    """How far a fragment has been drawn towards a plate that stands off the fragment at rest."""
    return gaps[still] - gaps[index] if index in gaps and still in gaps else 0.0


def _offset(
    layout: Layout, sequence: InsertionSequence, lines: tuple[LineProgress, ...], still: int, index: int, lift: float
) -> Offset:
    distal = index > still
    between = range(still, index) if distal else range(index, still)
    sign = 1.0 if distal else -1.0
    moves = [_across(layout.fracture.lines[i], lines[i], sequence) for i in between]
    # seen along the shaft, a kink tips every fragment beyond it: its near corner moves away from the one at rest
    turn = -sign * sum(lines[i].kink_deg for i in between)
    pivot = _pivot(layout.fracture.lines[between[0] if distal else between[-1]], distal) if between else (0.0, 0.0)
    return Offset(
        fragment=layout.fracture.fragments[index].name,
        ds_mm=sign * sum(ds for ds, _ in moves) + 0.0,
        dy_mm=sign * sum(dy for _, dy in moves) + lift + 0.0,
        rotation_deg=turn + 0.0,
        pivot=pivot,
    )


def _pivot(line: Line, distal: bool) -> Shift:
    y = -line.depth_mm / 2
    return (line.distal_face(y) if distal else line.proximal_face(y)), y


def _across(line: Line, progress: LineProgress, sequence: InsertionSequence) -> Shift:
    """How the fragment distal to a line has moved relative to the one proximal to it.

    Closing draws it back along the shaft. A slide of length ``w`` along the line (obliquity ``a``) takes the loose
    fragment, the one with the obtuse corner, w·sin|a| towards the other and w·cos a away from the plate.
    """
    first = first_fixed(sequence, line)
    if progress.slide_mm == 0 or first is None:
        return -progress.closed_mm, 0.0
    lean = math.radians(abs(line.obliquity_deg))
    away = -1.0 if _is_proximal(first, line) else 1.0
    return -progress.closed_mm - progress.slide_mm * math.sin(lean), away * progress.slide_mm * math.cos(lean)


def _is_proximal(one: Placed, line: Line) -> bool:
    return one.fragment <= line.index
