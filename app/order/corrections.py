"""What can still be corrected in the reduction after the screws put in so far (common practice, no source)."""

from dataclasses import dataclass
from typing import Literal

from app.geometry import Layout, Line
from app.order.progress import InsertionSequence, blocker

Room = Literal["yes", "a little", "no"]
_ROOMS: tuple[Room, ...] = ("no", "a little", "yes")


@dataclass(frozen=True, slots=True)
class Correctable:
    """Whether length, rotation and axis of the bone can still be corrected: `yes`, `a little` or `no`."""

    length: Room
    rotation: Room
    axis: Room


FREE = Correctable("yes", "yes", "yes")
NOTHING = Correctable("no", "no", "no")


def correctable(layout: Layout, sequence: InsertionSequence, pending: InsertionSequence) -> Correctable:
    """What the fracture line that is held least still allows.

    ``sequence`` are the screws put in so far, ``pending`` those still to come.
    """
    lines = [_at_line(sequence, pending, line) for line in layout.fracture.lines]
    return Correctable(
        _loosest([one.length for one in lines]),
        _loosest([one.rotation for one in lines]),
        _loosest([one.axis for one in lines]),
    )


def _loosest(rooms: list[Room]) -> Room:
    return max(rooms, key=_ROOMS.index)


def _at_line(sequence: InsertionSequence, pending: InsertionSequence, line: Line) -> Correctable:
    before = sum(one.on_plate and one.fragment <= line.index for one in sequence)
    behind = sum(one.on_plate and one.fragment > line.index for one in sequence)
    lags = sum(one.function == "lag" and one.line == line.index for one in sequence)
    bridged = min(before, behind)
    if lags and not bridged:
        # one lag holds the faces together but lets them turn about it a little
        return NOTHING if lags > 1 else Correctable("no", "a little", "a little")
    if not bridged:
        return FREE
    if lags or bridged > 1:
        return NOTHING
    whole = sequence + pending
    closing = any(one.function == "compress" and one.line == line.index and not blocker(whole, one) for one in pending)
    return Correctable("a little" if closing else "no", "no", "a little")
