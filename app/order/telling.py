"""What a step has changed, in one sentence or two with figures."""

from app.geometry import Layout
from app.order.actions import Action
from app.order.progress import (
    InsertionSequence,
    LineProgress,
    acts_from,
    blocker,
    both_locked,
    clearances,
    first_fixed,
    line_progress,
)
from app.order.roles import Placed
from app.order.steps import place


def tell(layout: Layout, action: Action, lines: tuple[LineProgress, ...], turn_deg: float) -> str:
    """What one action has changed, in words.

    ``lines`` are the fracture lines after it, ``turn_deg`` is the angle by which the plate may turn (degrees).
    """
    if action.kind == "check":
        return _tell_result(lines)
    if action.one is None:
        return _tell_plate(layout, action)
    if action.partner is not None:
        said = " ".join(part for part in _changes(layout, action, lines) if part)
        return f"Both are tight. {said}".rstrip()
    if action.kind == "insert" and action.one in action.waiting:
        return _tell_waiting(action, action.one)
    if action.kind == "recheck":
        return f"The screw in {place(action.one)} is tight again."
    if action.kind == "loosen":
        return f"The screw in {place(action.one)} is backed off; the plate can shift further."
    if action.kind == "tighten":
        return f"The screw in {place(action.one)} is tight."
    parts = [_turning(action, turn_deg), _waiting(action), *_changes(layout, action, lines), _open(layout, action)]
    said = " ".join(part for part in parts if part)
    return said or _plain(layout, action, action.one)


def _tell_result(lines: tuple[LineProgress, ...]) -> str:
    left = max((max(line.near_mm, line.far_mm) for line in lines), default=0.0)
    return f"All screws are in; {left:.1f} mm are open at most." if left >= 0.05 else "All screws are in."


def _tell_waiting(action: Action, one: Placed) -> str:
    if len([other for other in action.waiting if other.line == one.line]) > 1:
        return "Both eccentric screws are in, neither is tight: nothing has moved yet."
    return "It waits, not fully tight, for the one on the other side."


def _tell_plate(layout: Layout, action: Action) -> str:
    gap = layout.construct.fracture.gap_mm
    return {
        "reduce": f"Reduced, {gap:g} mm left open." if gap else "Reduced.",
        "contour": "The plate follows the bone.",
        "prebend": f"The plate's middle stands {layout.construct.plate.prebend_mm:g} mm off the bone.",
        "hold": "The plate is held on the bone; nothing is fixed yet.",
        "unwire": "The K-wires are out; forceps and plate hold.",
    }[action.kind]


def _turning(action: Action, turn_deg: float) -> str:
    plate = [one for one in action.sequence if one.on_plate]
    if not turn_deg or action.one not in plate:
        return ""
    if len(plate) > 1:
        return "The other end is still free: where the plate has turned, it is now held turned."
    return (
        f"Nothing holds the other end: the plate turns with the screw in {place(plate[0])}; after {turn_deg:.0f}° its "
        "far end hole is off the bone."
    )


def _waiting(action: Action) -> str:
    one = action.one
    if one is None or one.function != "compress":
        return ""
    stop = blocker(action.sequence, one)
    if stop is not None:
        return f"Its travel has no effect: the screw in {place(stop)} already holds."
    return "" if acts_from(action.sequence, one) is not None else "It has nothing to pull against yet."


def _changes(layout: Layout, action: Action, lines: tuple[LineProgress, ...]) -> list[str]:
    """What this screw, or the pair that is tightened in turn, changed at each line, against the state before."""
    new = action.sequence[-1:] if action.partner is None else (action.one, action.partner)
    before = tuple(one for one in action.tight if one not in new)
    said = []
    for line, now in zip(layout.fracture.lines, lines, strict=True):
        was = line_progress(layout, before, line)
        said += [_closing(now, was), _pressing(now, was), _sliding(layout, action.tight, now, was)]
    return said


def _closing(now: LineProgress, was: LineProgress) -> str:
    if now.near_mm - was.near_mm > 0.005:
        return f"Flush on the bent plate, the near cortex stands {now.near_mm:.1f} mm open; the far one touches."
    closed = was.near_mm - now.near_mm
    if closed < 0.005:
        return ""
    if now.far_mm < 0.005 and now.near_mm >= 0.05:
        return f"The far cortex closes first; the near one is still {now.near_mm:.1f} mm open."
    left = f"{now.near_mm:.1f} mm left" if now.near_mm >= 0.05 else "it is closed"
    return f"The gap closes by {closed:.1f} mm; {left}."


def _pressing(now: LineProgress, was: LineProgress) -> str:
    more = now.pressed_mm - was.pressed_mm
    return f"{more:.1f} mm of travel press the faces together." if more >= 0.05 else ""


def _sliding(layout: Layout, sequence: InsertionSequence, now: LineProgress, was: LineProgress) -> str:
    first = first_fixed(sequence, layout.fracture.lines[now.line])
    if now.slide_mm - was.slide_mm < 0.005 or first is None:
        return ""
    loose = layout.fracture.fragments[2 * now.line + 1 - first.fragment].name
    return f"The {loose} fragment slides {now.slide_mm:.1f} mm along the line, away from the plate."


def _open(layout: Layout, action: Action) -> str:
    """The gap that two locked fragments keep open, told when it begins or when a lag comes too late."""
    for line in layout.fracture.lines:
        if line.zone_mm > 0 or not both_locked(action.sequence, line):
            continue
        left = line_progress(layout, action.sequence, line).near_mm
        new = action.one is not None and (action.one.joins_line or not both_locked(action.sequence[:-1], line))
        if left >= 0.05 and new:
            return f"Both fragments are locked: the gap of {left:.1f} mm stays open, whatever follows."
    return ""


def _plain(layout: Layout, action: Action, one: Placed) -> str:
    name = layout.fracture.fragments[one.fragment].name
    if one.function == "lag":
        return _plain_lag(one)
    if any(other.on_plate and other.fragment == one.fragment for other in action.sequence[:-1]):
        return f"The plate is held more firmly to the {name} fragment."
    standoff = layout.construct.plate.standoff_mm
    gaps = clearances(layout, action.sequence)
    if standoff == 0 or (one.function == "lock" and not gaps[one.fragment]):
        return f"The plate is held to the {name} fragment."
    if one.function == "lock":
        return f"The plate is held to the {name} fragment, {gaps[one.fragment]:.1f} mm off it."
    step = next(iter(gaps.values()))
    if len(gaps) > 1 and step > 0:
        return f"The {name} fragment is drawn up to the plate: a step of {step:.1f} mm to the locked one."
    return f"The plate is drawn down {standoff:g} mm to the {name} fragment."


def _plain_lag(one: Placed) -> str:
    if one.catches_wedge:
        return f"The wedge is held to the {one.wedge_to} fragment."
    return "The lag screw holds the faces together." if one.joins_line else "The lag screw holds no pieces together."
