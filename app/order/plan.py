"""The operation plan: from a construct and its insertion sequence to steps in words."""

from app.case.roles import ROLE
from app.geometry import Layout
from app.order.actions import Action, actions, sequence_of
from app.order.contour import contour_words, prebend_words
from app.order.corrections import Correctable, correctable_lines, line_names
from app.order.progress import InsertionSequence
from app.order.reasons import why
from app.order.roles import Placed, placed_screws
from app.order.steps import Step, drills_for, expected_depth, is_countersunk, place, places, torque_words
from app.order.tension import needs_tension
from app.order.wires import wired_lines


def plan(layout: Layout, order: tuple[str, ...] | None = None) -> tuple[Step, ...]:
    """The steps of one construct, from reduction to the last check.

    Args:
        layout: the construct laid on its bone.
        order: screw ids; None takes the construct's own order or, without one, the derived order.

    Raises:
        KeyError: the order names a screw that isn't placed.
    """
    sequence = sequence_of(layout, order)
    return tuple(
        _step(layout, number, action, sequence) for number, action in enumerate(actions(layout, sequence), start=1)
    )


def _step(layout: Layout, number: int, action: Action, sequence: InsertionSequence) -> Step:
    one = action.one
    lines = correctable_lines(layout, action.sequence, (*action.waiting, *sequence[len(action.sequence) :]))
    if one is None:
        bends = layout.bends if action.kind == "contour" else ()
        return Step(number, action.kind, _what_without_screw(layout, action), why(layout, action), lines, bends=bends)
    if action.kind == "insert":
        return _insert(layout, number, action, one, lines)
    return Step(
        number,
        action.kind,
        _what_again(action, one),
        why(layout, action),
        lines,
        screw=one.id,
        hole=one.screw.hole,
        label=one.screw.spec.label,
        tightness=None if action.kind == "loosen" else _tightness(layout, one, loose=False),
        torque_nm=one.screw.spec.torque_nm if one.function == "lock" and action.kind == "tighten" else None,
    )


def _what_again(action: Action, one: Placed) -> str:
    if action.partner is not None:
        both = places(one, action.partner)
        return f"Tighten the screws in {both} in turn, a little each time, until both are tight."
    words = {"loosen": "Back off", "recheck": "Check and retighten", "tighten": "Now tighten fully"}
    return f"{words[action.kind]} the screw in {place(one)}."


def _insert(layout: Layout, number: int, action: Action, one: Placed, lines: tuple[Correctable, ...]) -> Step:
    spec = one.screw.spec
    return Step(
        number,
        "insert",
        _what_screw(layout, action, one),
        why(layout, action),
        lines,
        screw=one.id,
        hole=one.screw.hole,
        label=spec.label,
        stock_length_mm=one.screw.stock_length_mm,
        drills=drills_for(one),
        countersink=is_countersunk(one),
        tap_mm=spec.tap_mm,
        depth_mm=expected_depth(layout, one),
        tightness=_tightness(layout, one, loose=action.loose),
        torque_nm=spec.torque_nm if one.function == "lock" and not action.loose else None,
    )


def _what_screw(layout: Layout, action: Action, one: Placed) -> str:
    if one.screw.hole is None:
        return f"Independent lag screw {one.id[1:]}{_lean(one)}."
    words = ROLE[one.screw.role]
    text = f"Hole {one.screw.hole}: {words.article} {words.screw}{_lean(one)}"
    if one.screw.role == "eccentric" and layout.construct.principle != "compression":
        text += ", although nothing is to be compressed: make it neutral"
    elif one.screw.role == "eccentric":
        text += f", {layout.series.travel_mm:g} mm away from the fracture"
    return f"{text}{', left not fully tight' if action.loose else ''}.{_tension(layout, action, one)}"


def _tension(layout: Layout, action: Action, one: Placed) -> str:
    """Told before the first screw that pulls: the gap is closed by other means."""
    line = layout.fracture.lines[one.line]
    pulls = [other for other in action.sequence if other.function == "compress" and other.line == one.line]
    if pulls != [one] or not needs_tension(layout, tuple(placed_screws(layout).values()), line):
        return ""
    end = "proximal" if one.fragment <= line.index else "distal"
    return (
        f" First close the gap with a tension device at the plate's {end} end: {line.width_mm:g} mm are more than the "
        "eccentric screws can shift."
    )


def _lean(one: Placed) -> str:
    tilt, turn = one.screw.tilt_deg, one.screw.turn_deg
    leaning = f", tip leaning {abs(tilt):.0f}° {'distally' if tilt > 0 else 'proximally'}" if abs(tilt) >= 0.5 else ""
    return leaning + (f", turned {turn:.0f}° about the shaft" if abs(turn) >= 0.5 else "")


def _tightness(layout: Layout, one: Placed, *, loose: bool) -> str:
    if loose:
        head = "touches the edge of its hole" if one.function == "compress" else "engages its thread in the plate"
        return f"not fully: the head just {head}"
    if one.function == "lock":
        return torque_words(one.screw.spec)
    if one.function == "lag":
        return "firmly by hand, watching the line close; stop short of stripping"
    if one.function == "compress" and layout.construct.principle == "compression":
        return "slowly, forceps eased, watching the gap; last turns by hand"
    return "firmly, last turns by hand"


def _what_without_screw(layout: Layout, action: Action) -> str:
    if action.check is not None:
        return action.check.what
    if action.kind == "unwire":
        return f"Take out the K-wires{_at(layout, action)}."
    return _what_plate(layout, action)


def _at(layout: Layout, action: Action) -> str:
    """Which of several lines, in words."""
    names = line_names(len(layout.fracture.lines))
    if len(action.at) == len(names):
        return ""
    return f" at the {' and the '.join(names[line.index] for line in action.at)}"


def _what_plate(layout: Layout, action: Action) -> str:
    if action.kind == "reduce":
        return _what_reduce(layout)
    if action.kind == "contour":
        return contour_words(layout)
    if action.kind == "prebend":
        prebend = layout.construct.plate.prebend_mm
        if layout.construct.principle != "compression":
            return f"Leave it unbent: the plan bends it {prebend:g} mm although nothing is to be compressed."
        where = prebend_words(layout)
        return f"Pre-bend it sharply over the fracture{where} until its middle stands {prebend:g} mm off."
    return f"Hold the plate with forceps, {_lie(layout)}{_standoff(layout)}."


def _what_reduce(layout: Layout) -> str:
    wired = wired_lines(layout)
    if layout.construct.principle == "bridging":
        zone = any(line.zone_mm > 0 for line in layout.fracture.lines)
        kept = ", K-wires only into the main fragments" if zone else " with K-wires clear of the plate"
        how = f"hold them{kept}" if wired else "hold them"
        return f"Restore length, rotation and axis without laying the fracture bare; {how}."
    wires = ", and with K-wires clear of plate and screws" if wired else ""
    return f"Reduce the fracture and hold it with forceps{wires}."


def _standoff(layout: Layout) -> str:
    standoff = layout.construct.plate.standoff_mm
    return f", {standoff:g} mm off the bone" if standoff > 0 else ""


def _lie(layout: Layout) -> str:
    over = layout.holes_over_fracture
    if not over:
        return "no hole over the fracture"
    return f"hole{'s' if len(over) > 1 else ''} {', '.join(map(str, over))} over the fracture"
