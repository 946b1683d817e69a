"""K-wires that hold a reduction for the time being: for which lines, and when they come out.

Standing: common practice, no source; that whatever holds the line is eased while it is compressed: AO Surgery
Reference, ulna (the clamp is released).
"""

from app.geometry import Layout, Line
from app.geometry.fracture import OBTUSE_FROM_DEG
from app.order.progress import InsertionSequence, acts_from, blocker

Removals = dict[tuple[int, bool], tuple[Line, ...]]


def wired_lines(layout: Layout) -> tuple[Line, ...]:
    """Lines whose reduction forceps alone hold badly: oblique ones, those with a wedge, and zones."""
    wedge = layout.fracture.wedge
    return tuple(
        line
        for line in layout.fracture.lines
        if abs(line.obliquity_deg) >= OBTUSE_FROM_DEG
        or line.zone_mm > 0
        or (wedge is not None and wedge.line == line.index)
    )


def removals(layout: Layout, sequence: InsertionSequence) -> Removals:
    """The lines at which K-wires come out, by the index of a screw and whether it is before that screw goes in."""
    found: Removals = {}
    for line in wired_lines(layout):
        before = out_before(sequence, line) if layout.construct.principle == "compression" else None
        moment = out_after(sequence, line) if before is None else before
        if moment is not None:
            key = (moment, before is not None)
            found[key] = (*found.get(key, ()), line)
    return found


def out_before(sequence: InsertionSequence, line: Line) -> int | None:
    """Index of the screw before which the K-wires at a line come out, since it begins to close the line.

    None where no eccentric screw closes it.
    """
    moments = [
        acts_from(sequence, one)
        for one in sequence
        if one.function == "compress" and one.line == line.index and not blocker(sequence, one)
    ]
    return min((moment for moment in moments if moment is not None), default=None)


def out_after(sequence: InsertionSequence, line: Line) -> int | None:
    """Index of the screw after which the K-wires at a line come out: the plate holds both sides, its lag screws are in.

    None where the plate never holds both sides.
    """
    sides = [
        next((i for i, one in enumerate(sequence) if one.on_plate and one.fragment == side), None)
        for side in (line.index, line.index + 1)
    ]
    lags = [i for i, one in enumerate(sequence) if one.function == "lag" and one.line == line.index]
    held = [i for i in sides if i is not None]
    return max(*held, *lags) if len(held) == 2 else None
