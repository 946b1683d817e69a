"""The reason for each step, and for doing it at that moment.

Sources stand with the rules on the order; reasons without one are common practice.
"""

from app.geometry import Layout
from app.order.actions import Action
from app.order.progress import InsertionSequence, acts_from, blocker, effective_pulls
from app.order.roles import Placed, obtuse_fragment
from app.order.steps import place
from app.order.tension import may_use_tension


def why(layout: Layout, action: Action) -> str:
    """The reason for one action, in words."""
    if action.one is not None:
        return _why_screw(layout, action, action.one)
    if action.check is not None:
        return action.check.why
    if action.kind == "unwire":
        return _why_unwire(action)
    return {
        "reduce": _why_reduce(layout),
        "contour": "A straight plate on a bowed bone pulls the bone straight as its screws are tightened.",
        "prebend": _why_prebend(layout),
        "hold": "The holes must lie where they were planned before the first drill hole settles it.",
    }[action.kind]


def _why_reduce(layout: Layout) -> str:
    if layout.construct.principle == "bridging":
        return "Length, rotation and axis are set now; a bridging plate only keeps them."
    if layout.construct.principle == "protection":
        return "The plate only protects what is reduced and lagged; a lag screw presses faces that fit."
    return "The plate holds what is reduced; compression needs faces that fit."


def _why_prebend(layout: Layout) -> str:
    if layout.construct.principle == "compression":
        return "Unbent, the plate closes the near cortex and lets the far one gape; the bend presses that too."
    return f"A bend presses the far cortex as screws draw the plate flat; {_without_compression(layout)}."


def _without_compression(layout: Layout) -> str:
    """What does the work where the plate compresses nothing."""
    if layout.construct.principle == "bridging":
        return "a bridging plate only keeps length, rotation and axis"
    return "here a lag screw presses the line, and the plate only protects it"


def _why_unwire(action: Action) -> str:
    held = {one.fragment for one in action.sequence if one.on_plate}
    if all({line.index, line.index + 1} <= held for line in action.at):
        return "The plate holds both sides now; the K-wires are in the way of screws and of the last trimming."
    return "They would hold the line open against the eccentric screw; forceps that are eased give way."


def _why_screw(layout: Layout, action: Action, one: Placed) -> str:
    if action.kind == "loosen":
        return "While it is tight it blocks any further travel."
    if action.kind == "recheck":
        return _why_recheck(layout, action, one)
    if action.partner is not None:
        return (
            "Each is what the other pulls against: tightened alone, one would only shift the plate. In turn, both draw "
            "the fracture together."
        )
    if action.kind == "tighten":
        return "Holds what the next one has drawn together." if one.function != "lock" else _why_tighten_lock(one)
    if one in action.waiting and acts_from(action.sequence, one) is not None:
        return _why_waiting(action, one)
    reasons = {"lag": _why_lag, "compress": _why_compress, "lock": _why_lock, "fix": _why_fix}
    return reasons[one.function](layout, action.sequence, one)


def _why_waiting(action: Action, one: Placed) -> str:
    """The second of two eccentric screws that are tightened in turn."""
    other = next(pull for pull in action.waiting if pull is not one and pull.line == one.line)
    return (
        f"What the screw in {place(other)} pulls against, and the other way round; neither is tight before both are in."
    )


def _why_recheck(layout: Layout, action: Action, one: Placed) -> str:
    said = "The plate has shifted over the bone; the screw that held it may have lost some of its grip."
    pulls = [
        other
        for other in action.sequence
        if other.function == "compress" and other.line == one.line and other.fragment != one.fragment
    ]
    if layout.series.hole_kind == "combination" and one.function == "fix" and len(pulls) > 1:
        said += " In a combination hole it seats less fully after a second eccentric screw: look at its head."
    return said


def _why_tighten_lock(one: Placed) -> str:
    return f"Both ends are secured: the plate cannot turn with the screw in hole {one.screw.hole} any more."


def _why_lag(layout: Layout, sequence: InsertionSequence, one: Placed) -> str:
    pulled = layout.construct.principle == "compression" and any(
        other.function == "compress" and other.line == one.line for other in sequence
    )
    if one.catches_wedge:
        return _why_catch(one, late=pulled)
    if not one.joins_line:
        return "Presses nothing: it does not hold one piece with its head and another with its thread."
    if pulled:
        return "After the axial compression: put in before, it would hold the faces against the travel."
    if layout.construct.principle == "compression":
        return "Presses the faces together across the line, before anything holds them apart."
    first = not any(other.on_plate for other in sequence)
    return f"{'First: it closes' if first else 'Closes'} the line, which the plate then only protects."


def _why_catch(one: Placed, *, late: bool) -> str:
    said = f"Joins the wedge to the {one.wedge_to} fragment"
    if late:
        return f"{said}; put in before the eccentric screw, it would have left a simple line to compress."
    return f"{said}, which leaves a simple line."


def _why_compress(layout: Layout, sequence: InsertionSequence, one: Placed) -> str:
    name = layout.fracture.fragments[one.fragment].name
    if layout.construct.principle != "compression":
        return f"Eccentric, its head could shift the {name} fragment along the shaft; {_without_compression(layout)}."
    stop = blocker(sequence, one)
    if stop is not None:
        return f"Too late to compress: {place(stop)} already holds this fragment."
    travel = f"{layout.series.travel_mm:g} mm"
    if acts_from(sequence, one) is None:
        return f"Its {travel} of travel act only once the other side of the fracture is held to the plate."
    line = layout.fracture.lines[one.line]
    other = (
        " On this bone a tension device at the plate's end is the other way."
        if may_use_tension(layout, line) and effective_pulls(sequence, line)[:1] in ((), (one,))
        else ""
    )
    return f"Its head slides down the edge of the hole and draws the {name} fragment {travel} in.{other}"


def _why_lock(layout: Layout, sequence: InsertionSequence, one: Placed) -> str:
    plate = [other for other in sequence if other.on_plate]
    if 0 < one.fragment < len(layout.fracture.lines) and all(other.fragment != one.fragment for other in plate[:-1]):
        return _why_lock_between(layout.fracture.fragments[one.fragment].name, alone=len(plate) == 1)
    if len(plate) == 1:
        return "Fixes one end; the plate can still be swung over the other fragment."
    if all(other.fragment != one.fragment for other in plate[:-1]):
        return "Secures the other end: from here on the plate cannot turn or drift off the bone."
    if any(other.fragment == one.fragment and other.function == "fix" for other in plate[:-1]):
        return "After the cortex screws: they draw plate and bone together, this one keeps them so."
    return "Adds hold, working from the secured ends towards the fracture."


def _why_lock_between(name: str, *, alone: bool) -> str:
    if alone:
        return f"Fixes the plate to the {name} fragment; both its ends can still be swung."
    return f"Holds the {name} fragment, which could be set between its neighbours until now."


def _shielded(layout: Layout, one: Placed) -> bool:
    """Whether the plate has a lag screw to shield: where it compresses, one that holds the wedge alone is not meant."""
    return one.joins_line or (one.catches_wedge and layout.construct.principle != "compression")


def _why_protect(name: str, plate: list[Placed], one: Placed, *, shields: bool) -> str:
    if any(other.fragment == one.fragment for other in plate[:-1]):
        return (
            f"Adds hold and lever arm{' beside the lag screw, which stands little bending alone' if shields else ''}."
        )
    return f"Ties the {name} fragment to the plate{', which shields the lag screw' if shields else ''}."


def _why_fix(layout: Layout, sequence: InsertionSequence, one: Placed) -> str:
    fragments = layout.fracture.fragments
    line = layout.fracture.lines[one.line]
    plate = [other for other in sequence if other.on_plate]
    if layout.construct.principle == "bridging" and one.function == "fix":
        return "Draws plate and bone together; what locks comes after, and keeps them so."
    beside = [other for other in plate[:-1] if other.fragment in (line.index, line.index + 1)]
    shields = any(_shielded(layout, other) and other.line == line.index for other in sequence)
    if shields or layout.construct.principle == "protection":
        return _why_protect(fragments[one.fragment].name, plate, one, shields=shields)
    if not beside and obtuse_fragment(line) == one.fragment:
        return (
            f"The {fragments[one.fragment].name} fragment has the obtuse corner: fixed first, it forms an axilla "
            "(a pocket) with the plate, in which the other fragment's tip is caught."
        )
    if not beside:
        return f"Holds the plate to the {fragments[one.fragment].name} fragment before the other side is drawn to it."
    if not any(other.fragment == one.fragment for other in plate[:-1]):
        return "Fixes the other side of the fracture to the plate."
    return "Adds hold and lever arm, now that the fracture is closed."
