"""The effect of the screws put in so far on each fracture line: geometry of rigid fragments, in mm and degrees.

Standing: assumed. The rigid fragments show in which direction and about how far things move; the effect of the
stiffness of implants and bone is computed in the mechanics.
"""

import math
from dataclasses import dataclass

from app.geometry import Layout, Line
from app.order.roles import Placed, acute_fragment

InsertionSequence = tuple[Placed, ...]


@dataclass(frozen=True, slots=True)
class LineProgress:
    """One fracture line after some of the screws.

    Attributes:
        line: index of the fracture line.
        near_mm: opening along the axis at the near cortex (mm).
        far_mm: opening along the axis at the far cortex (mm).
        closed_mm: how far the gap has been closed (mm).
        travel_mm: travel of the eccentric screws that took effect (mm).
        pressed_mm: the part of that travel that found nothing left to close, and presses the faces together (mm).
        slide_mm: how far the loose fragment has slid along the line (mm).
        kink_deg: angle by which the pre-bend tilts one fragment against the other (degrees).
    """

    line: int
    near_mm: float
    far_mm: float
    closed_mm: float
    travel_mm: float
    pressed_mm: float
    slide_mm: float
    kink_deg: float


def acts_from(sequence: InsertionSequence, pull: Placed) -> int | None:
    """Index in the sequence from which an eccentric screw pulls: it is in, and a screw holds the other side.

    None where it does not pull yet.
    """
    counter = next((i for i, one in enumerate(sequence) if one.on_plate and one.fragment == pull.across), None)
    return None if counter is None or pull not in sequence else max(counter, sequence.index(pull))


def blocker(sequence: InsertionSequence, pull: Placed) -> Placed | None:
    """The screw that keeps an eccentric screw from moving its fragment; None where nothing does.

    It is a lag screw that joins the two fragments beside the line (one that only holds a wedge does not), or a neutral
    or locking screw that already holds the fragment to the plate, put in before the eccentric screw pulls. Source for
    the neutral one: AO Surgery Reference, ulna: further screws go into the neutral fragment.
    """
    moment = acts_from(sequence, pull)
    before = sequence if moment is None else sequence[:moment]
    for one in before:
        joins = one.joins_line and one.line == pull.line
        fixes = one.function in ("fix", "lock") and one.fragment == pull.fragment and one.on_plate
        if joins or fixes:
            return one
    return None


def in_turn(sequence: InsertionSequence) -> tuple[tuple[Placed, Placed], ...]:
    """Eccentric screws on both sides of a line that pull against each other, the one that goes in first in front.

    Neither is tight before both are in; then they are tightened alternately. At most one pair for each line.
    """
    found: dict[int, tuple[Placed, Placed]] = {}
    for pull in sequence:
        moment = acts_from(sequence, pull) if pull.function == "compress" else None
        other = None if moment is None else sequence[moment]
        if other is None or other is pull or other.function != "compress" or pull.line in found:
            continue
        if other.line == pull.line and not blocker(sequence, pull) and not blocker(sequence, other):
            found[pull.line] = (pull, other)
    return tuple(found.values())


def effective_pulls(sequence: InsertionSequence, line: Line) -> InsertionSequence:
    """The eccentric screws whose travel has taken effect at a line."""
    return tuple(
        one
        for one in sequence
        if one.function == "compress" and one.line == line.index and acts_from(sequence, one) is not None
        if blocker(sequence, one) is None
    )


def first_fixed(sequence: InsertionSequence, line: Line) -> Placed | None:
    """The screw that fixed the plate to one side of a line first.

    None where there is none, or where a lag screw joined the two sides before; one that holds a wedge to one side
    doesn't.
    """
    for one in sequence:
        if one.joins_line and one.line == line.index:
            return None
        if one.on_plate and one.fragment in (line.index, line.index + 1):
            return one
    return None


def held_on_acute_side(sequence: InsertionSequence, line: Line) -> bool:
    """Whether the plate was first fixed to the fragment with the acute corner; the other one is then free to slide."""
    first = first_fixed(sequence, line)
    return first is not None and first.fragment == acute_fragment(line)


def both_locked(sequence: InsertionSequence, line: Line) -> bool:
    """Whether locking screws hold the fragments on both sides of a line at a fixed distance."""
    locked = {one.fragment for one in sequence if one.function == "lock"}
    return {line.index, line.index + 1} <= locked


def lag_closes(sequence: InsertionSequence, line: Line) -> bool:
    """Whether a lag screw that joins both sides has closed a line.

    There is no zone, and it went in before both sides were locked.
    """
    if line.zone_mm > 0:
        return False
    lags = [i for i, one in enumerate(sequence) if one.joins_line and one.line == line.index]
    return any(not both_locked(sequence[:i], line) for i in lags)


def bend_kink_rad(layout: Layout, sequence: InsertionSequence, line: Line) -> float:
    """Angle between the fragments when both lie flush on the legs of a pre-bent plate (rad).

    The bend is sharp and over the line: the plate's middle stands ``p`` off the bone while its ends, at the distances
    ``l1`` and ``l2`` from the line, touch it. The legs then meet at the angle p/l1 + p/l2 (small angles).
    """
    bent = layout.fracture.line_at(layout.construct.plate.centre_mm)
    drawn = {one.fragment for one in sequence if one.function in ("fix", "compress")}
    if line.index != bent.index or not {line.index, line.index + 1} <= drawn:
        return 0.0
    low, high = layout.plate_ends_mm
    legs = line.position_mm - low, high - line.position_mm
    return sum(layout.construct.plate.prebend_mm / leg for leg in legs) if min(legs) > 0 else 0.0


def line_progress(layout: Layout, sequence: InsertionSequence, line: Line) -> LineProgress:
    """Compute the effect of a sequence of screws on one line.

    The travel ``t`` moves a fragment along the shaft. It first closes the gap, then the near cortex that a pre-bend
    holds open (depth × kink: the fragments meet at the far cortex first); what is left presses the faces together.
    Where the acute side was fixed first, the rest ``r`` splits at the faces (obliquity ``a``): r·cos a across the line
    is pressed, while r·sin a along it is not resisted and becomes slide.
    """
    travel = layout.series.travel_mm * len(effective_pulls(sequence, line))
    by_lag = lag_closes(sequence, line)
    closed = line.width_mm if by_lag else min(travel, line.width_mm)
    kink = 0.0 if by_lag else bend_kink_rad(layout, sequence, line)
    rest = max(0.0, travel - line.width_mm)
    turned = min(rest, kink * line.depth_mm)
    pressed, slide = rest - turned, 0.0
    if held_on_acute_side(sequence, line):
        lean = math.radians(abs(line.obliquity_deg))
        pressed, slide = pressed * math.cos(lean), pressed * math.sin(lean)
    open_mm = line.width_mm - closed
    kink = max(0.0, kink - turned / line.depth_mm)  # what was turned wholly is wholly gone, whatever rounding says
    return LineProgress(
        line=line.index,
        near_mm=open_mm + kink * line.depth_mm,
        far_mm=open_mm,
        closed_mm=closed,
        travel_mm=travel,
        pressed_mm=pressed,
        slide_mm=slide,
        kink_deg=math.degrees(kink),
    )


def clearances(layout: Layout, sequence: InsertionSequence) -> dict[int, float]:
    """Clear distance under the plate (mm) for each fragment fixed to it, by the index of the fragment.

    A cortex screw draws plate and fragment together. A locking screw keeps the distance that it finds, and no later
    cortex screw in that fragment changes it.
    """
    found: dict[int, float] = {}
    now = layout.construct.plate.standoff_mm
    for one in sequence:
        if not one.on_plate or one.fragment in found:
            continue
        found[one.fragment] = now if one.function == "lock" else 0.0
        if len(found) == 1:
            now = found[one.fragment]
    return found
