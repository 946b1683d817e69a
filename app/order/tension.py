"""The tension device: where eccentric screws cannot close the gap, and where it is the usual other way.

Standing: common practice, no source.
"""

from app.geometry import Layout, Line
from app.geometry.fracture import OBTUSE_FROM_DEG
from app.order.progress import InsertionSequence

LARGE_BONES = frozenset({"femur", "tibia"})


def needs_tension(layout: Layout, sequence: InsertionSequence, line: Line) -> bool:
    """Whether a line is to be compressed, and its gap is wider than its eccentric screws can shift.

    A lag screw that joins its two sides closes it as well.
    """
    if layout.construct.principle != "compression" or line.zone_mm > 0:
        return False
    here = [one for one in sequence if one.line == line.index]
    travel = layout.series.travel_mm * sum(one.function == "compress" for one in here)
    return line.width_mm > travel + 1e-9 and not any(one.joins_line for one in here)


def may_use_tension(layout: Layout, line: Line) -> bool:
    """Whether a tension device is the usual alternative: a transverse line of femur or tibia that is compressed."""
    return (
        layout.construct.principle == "compression"
        and layout.construct.bone.name in LARGE_BONES
        and line.zone_mm == 0
        and abs(line.obliquity_deg) < OBTUSE_FROM_DEG
    )
