"""The insertion sequence that follows from the construct (common practice; handbook sources stand beside the rules)."""

from itertools import chain, zip_longest

from app.geometry import Layout, Line
from app.order.roles import Placed, obtuse_fragment, placed_screws


def derive_order(layout: Layout) -> tuple[str, ...]:
    """Ids of all placed screws in the order in which they go in.

    Compression: for each line a neutral screw next to it on the obtuse side, the eccentric ones opposite, and the lag
    screw; then the end screws and the rest. A lag screw that joins a wedge to a main fragment goes before all: it
    leaves a simple line, which is then closed as any other. Where both sides have eccentric screws, the two next to the
    line lead: each is what the other pulls against. A lag screw on a line that no eccentric screw closes goes in first,
    since it alone can close it. Protection and bridging: lag screws first. Bridging: one end, the other end, then
    towards the zone. Cortex screws come before locking ones.

    Source for two eccentric screws: Wheeless' Textbook of Orthopaedics, one-third tubular plate as a tension band (the
    first left loose, the second eccentric on the other side and tightened, then the first); alternation between the
    sides: bench test, Injury 2011.
    """
    screws = tuple(placed_screws(layout).values())
    lags = sorted((one for one in screws if one.function == "lag"), key=lambda one: one.screw.hole is not None)
    order = [one for one in lags if one.catches_wedge]
    if layout.construct.principle != "compression":
        order += [one for one in lags if one not in order]
    for line in _lines_in_turn(layout, screws):
        pulled = any(one.function == "compress" and one.line == line.index for one in screws)
        plate = _around(layout, line, screws)
        across = [one for one in lags if one.line == line.index and one not in order]
        order += [one for one in (*plate, *across) if one not in order] if pulled else []
        order += [one for one in (*across, *plate) if one not in order]
    for functions in (("fix", "compress"), ("lock",)):
        rest = [one for one in screws if one.function in functions and one not in order]
        order += _towards_fracture(layout, rest, order)
    return tuple(one.id for one in order)


def order_of(layout: Layout) -> tuple[str, ...]:
    """Ids of the screws in the construct's own order or, without one, in the derived order."""
    given = layout.construct.order
    return derive_order(layout) if given is None else given


def _lines_in_turn(layout: Layout, screws: tuple[Placed, ...]) -> list[Line]:
    """Lines from proximal to distal, but first those closed from a fragment that a later line holds still."""
    last = len(layout.fracture.fragments) - 1
    inner = {one.line for one in screws if one.function == "compress" and 0 < one.fragment < last}
    return sorted(layout.fracture.lines, key=lambda line: (line.index not in inner, line.index))


def _around(layout: Layout, line: Line, screws: tuple[Placed, ...]) -> list[Placed]:
    """The screws that close one line: the one that holds, then those that pull or, without any, the one opposite.

    Eccentric screws on both sides hold for each other, the obtuse side's first.
    """
    near = sorted(
        (one for one in screws if one.on_plate and one.fragment in (line.index, line.index + 1)),
        key=lambda one: abs(one.screw.s_mm - line.position_mm),
    )
    pulling = [one for one in near if one.function == "compress" and one.line == line.index]
    if layout.construct.principle == "bridging" and not pulling:
        return []
    if len({one.fragment for one in pulling}) == 2:
        return _both_pulling(line, pulling)
    anchor = _anchor(line, near, pulling)
    if anchor is None:
        return pulling
    opposite = [one for one in near if one.function == "fix" and one.fragment != anchor.fragment][:1]
    return [anchor, *(pulling or opposite)]


def _both_pulling(line: Line, pulling: list[Placed]) -> list[Placed]:
    first = obtuse_fragment(line)
    lead = next((one for one in pulling if one.fragment == first), pulling[0])
    counter = next(one for one in pulling if one.fragment != lead.fragment)
    return [lead, counter, *(one for one in pulling if one not in (lead, counter))]


def _anchor(line: Line, near: list[Placed], pulling: list[Placed]) -> Placed | None:
    """The screw that holds while the other side is pulled.

    It is a neutral one, or a locking one where its fragment has only locking ones.
    """
    for side in _sides(line, near, pulling):
        here = [one for one in near if one.fragment == side]
        neutral = [one for one in here if one.function == "fix"]
        if neutral:
            return neutral[0]
        if here and pulling and all(one.function == "lock" for one in here):
            return here[0]
    return None


def _sides(line: Line, near: list[Placed], pulling: list[Placed]) -> list[int]:
    """The two fragments beside a line, the one to be held first in front.

    What is pulled cannot be what is held, so the eccentric screws decide where they are all on one side; otherwise
    the obtuse corner, otherwise the side with the nearest screw.
    """
    pulled = {one.fragment for one in pulling}
    first = obtuse_fragment(line)
    if len(pulled) == 1:
        first = 2 * line.index + 1 - pulled.pop()
    elif first is None:
        first = near[0].fragment if near else line.index
    return [first, 2 * line.index + 1 - first]


def _towards_fracture(layout: Layout, rest: list[Placed], before: list[Placed]) -> list[Placed]:
    """The two ends in turn, then inwards, the less held side first; screws of intermediate fragments last.

    With a pre-bent plate inner screws come first instead: the bend must be pressed flat from the fracture outwards.
    Source: Wheeless' Textbook of Orthopaedics, pre-bending of plates: inner screws first, outer last.
    """
    last = len(layout.fracture.fragments) - 1
    outwards = layout.construct.plate.prebend_mm > 0 and layout.construct.principle == "compression"
    sides = {
        end: sorted((one for one in rest if one.fragment == end), key=lambda one: one.screw.s_mm) for end in (0, last)
    }
    sides[last].reverse()
    if outwards:
        sides = {end: side[::-1] for end, side in sides.items()}
    held = {end: sum(one.on_plate and one.fragment == end for one in before) for end in (0, last)}
    turns = sorted((0, last), key=lambda end: (held[end], end))
    main = [one for one in chain(*zip_longest(*(sides[end] for end in turns))) if one is not None]
    return main + [one for one in rest if one.fragment not in (0, last)]
