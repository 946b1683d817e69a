"""The operation plan: from a construct and its insertion sequence to steps in words."""

from app.case.roles import ROLE
from app.geometry import Layout
from app.order.actions import Action, actions, sequence_of
from app.order.corrections import FREE, Correctable, correctable
from app.order.reasons import why
from app.order.roles import Placed
from app.order.steps import Step, drills_for, expected_depth, place, torque_words


def plan(layout: Layout, order: tuple[str, ...] | None = None) -> tuple[Step, ...]:
    """The steps of one construct, from reduction to the last screw.

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


def _step(layout: Layout, number: int, action: Action, sequence: tuple[Placed, ...]) -> Step:
    one = action.one
    room = correctable(layout, action.sequence, sequence[len(action.sequence) :]) if action.sequence else FREE
    if one is None:
        return Step(number, action.kind, _what_plate(layout, action), why(layout, action), room)
    if action.kind == "insert":
        return _insert(layout, number, action, one, room)
    words = {"loosen": "Back off", "recheck": "Check and retighten", "tighten": "Now tighten fully"}
    return Step(
        number,
        action.kind,
        f"{words[action.kind]} the screw in {place(one)}.",
        why(layout, action),
        room,
        screw=one.id,
        hole=one.screw.hole,
        label=one.screw.spec.label,
        tightness=None if action.kind == "loosen" else _tightness(one, loose=False),
        torque_nm=one.screw.spec.torque_nm if one.function == "lock" and action.kind == "tighten" else None,
    )


def _insert(layout: Layout, number: int, action: Action, one: Placed, room: Correctable) -> Step:
    spec = one.screw.spec
    return Step(
        number,
        "insert",
        _what_screw(layout, action, one),
        why(layout, action),
        room,
        screw=one.id,
        hole=one.screw.hole,
        label=spec.label,
        stock_length_mm=one.screw.stock_length_mm,
        drills=drills_for(one),
        tap_mm=spec.tap_mm,
        depth_mm=expected_depth(layout, one),
        tightness=_tightness(one, loose=action.loose),
        torque_nm=spec.torque_nm if one.function == "lock" and not action.loose else None,
    )


def _what_screw(layout: Layout, action: Action, one: Placed) -> str:
    if one.screw.hole is None:
        return f"Lag screw {one.id[1:]} beside the plate{_lean(one)}."
    words = ROLE[one.screw.role]
    text = f"Hole {one.screw.hole}: {words.article} {words.screw}{_lean(one)}"
    if one.screw.role == "eccentric":
        text += f", {layout.series.travel_mm:g} mm away from the fracture"
    return f"{text}{', left not fully tight' if action.loose else ''}."


def _lean(one: Placed) -> str:
    tilt = one.screw.tilt_deg
    return f", tip leaning {abs(tilt):.0f}° {'distally' if tilt > 0 else 'proximally'}" if abs(tilt) >= 0.5 else ""


def _tightness(one: Placed, *, loose: bool) -> str:
    if loose:
        return "not fully: the head just engages its thread in the plate"
    if one.function == "lock":
        return torque_words(one.screw.spec.torque_nm)
    if one.function == "lag":
        return "firmly by hand, watching the line close; stop short of stripping"
    return (
        "slowly, watching the gap; last turns by hand" if one.function == "compress" else "firmly, last turns by hand"
    )


def _what_plate(layout: Layout, action: Action) -> str:
    construct = layout.construct
    if action.kind == "reduce":
        if construct.principle == "bridging":
            return "Restore length, rotation and axis without laying the zone bare; hold them."
        return "Reduce the fracture and hold it with forceps."
    if action.kind == "contour":
        return f"Contour the plate to the bow: {layout.contour_mm:.1f} mm over its {layout.plate_length_mm:.0f} mm."
    if action.kind == "prebend":
        return f"Pre-bend it sharply over the fracture until its middle stands {construct.plate.prebend_mm:g} mm off."
    return f"Hold the plate with forceps, {_lie(layout)}{_standoff(layout)}."


def _standoff(layout: Layout) -> str:
    standoff = layout.construct.plate.standoff_mm
    return f", {standoff:g} mm off the bone" if standoff > 0 else ""


def _lie(layout: Layout) -> str:
    over = layout.holes_over_fracture
    if not over:
        return "no hole over the fracture"
    return f"hole{'s' if len(over) > 1 else ''} {', '.join(map(str, over))} over the fracture"
