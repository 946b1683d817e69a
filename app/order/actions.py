"""The operation as a sequence of actions, from reduction to the last screw, before it is put into words."""

from dataclasses import dataclass

from app.geometry import Layout, Line
from app.order.checks import Check, final_checks
from app.order.progress import InsertionSequence, acts_from, blocker, in_turn
from app.order.roles import Placed, placed_screws
from app.order.sequence import order_of
from app.order.steps import Kind
from app.order.wires import Removals, removals

CONTOUR_FROM_MM = 0.5  # a plate that stands off less than this lies down under its screws (common practice, no source)


@dataclass(frozen=True, slots=True)
class Action:
    """One action of the operation.

    Attributes:
        kind: what is done.
        one: the screw it is done with; None for an action without a screw.
        sequence: the screws that are in after it, in their order.
        loose: whether the screw is left not fully tight.
        partner: the screw that it is tightened in turn with.
        waiting: eccentric screws that are in but do not pull yet, since they are not tight.
        at: the fracture lines that K-wires are taken out of.
        check: what is checked.
    """

    kind: Kind
    one: Placed | None
    sequence: InsertionSequence
    loose: bool = False
    partner: Placed | None = None
    waiting: InsertionSequence = ()
    at: tuple[Line, ...] = ()
    check: Check | None = None

    @property
    def tight(self) -> InsertionSequence:
        """The screws whose pull has taken effect: those that are in and do not wait for another."""
        return tuple(one for one in self.sequence if one not in self.waiting)


def sequence_of(layout: Layout, order: tuple[str, ...] | None) -> InsertionSequence:
    """The screws in the order given; None means the construct's own order or, without one, the derived order.

    Raises:
        KeyError: the order names a screw that isn't placed.
    """
    screws = placed_screws(layout)
    return tuple(screws[name] for name in (order_of(layout) if order is None else order))


def actions(layout: Layout, sequence: InsertionSequence) -> tuple[Action, ...]:
    """Every action of the operation, from reduction to the last check."""
    lead = next((i for i, one in enumerate(sequence) if one.screw.hole is not None), len(sequence))
    done = [Action("reduce", None, ())]
    for i in range(lead):
        done.append(Action("insert", sequence[i], sequence[: i + 1]))
    done += _plate_actions(layout, sequence[:lead])
    # where nothing is to be compressed, no eccentric screw is made to pull: none is tightened in turn or backed off
    compresses = layout.construct.principle == "compression"
    pairs, wires = in_turn(sequence) if compresses else (), removals(layout, sequence)
    for i in range(lead, len(sequence)):
        now = _screw_actions(sequence, i, pairs) if compresses else _plain_actions(sequence, i)
        done += _wires_out(wires, sequence[:i], i, done[-1].waiting, before=True)
        done += now
        done += _wires_out(wires, sequence[: i + 1], i, now[-1].waiting, before=False)
    if sequence:
        done += [Action("check", None, sequence, check=check) for check in final_checks(layout)]
    return tuple(done)


def _wires_out(
    wires: Removals, after: InsertionSequence, i: int, waiting: InsertionSequence, *, before: bool
) -> list[Action]:
    lines = wires.get((i, before))
    return [Action("unwire", None, after, waiting=waiting, at=lines)] if lines else []


def _plate_actions(layout: Layout, sequence: InsertionSequence) -> list[Action]:
    done = []
    if layout.contour_mm >= CONTOUR_FROM_MM:
        done.append(Action("contour", None, sequence))
    if layout.construct.plate.prebend_mm > 0:
        done.append(Action("prebend", None, sequence))
    return [*done, Action("hold", None, sequence)]


def loose_pair(sequence: InsertionSequence) -> InsertionSequence:
    """The first two plate screws, where both lock and lie on either side of the fracture; empty otherwise.

    Neither is tightened fully before the other is in.
    """
    plate = [one for one in sequence if one.on_plate][:2]
    if len(plate) == 2 and all(one.function == "lock" for one in plate) and plate[0].fragment != plate[1].fragment:
        return tuple(plate)
    return ()


def _plain_actions(sequence: InsertionSequence, i: int) -> list[Action]:
    one, after, pair = sequence[i], sequence[: i + 1], loose_pair(sequence)
    done = [Action("insert", one, after, one in pair)]
    return done + [Action("tighten", lock, after) for lock in pair if one is pair[1]]


def _screw_actions(sequence: InsertionSequence, i: int, pairs: tuple[tuple[Placed, Placed], ...]) -> list[Action]:
    one, before, after = sequence[i], sequence[:i], sequence[: i + 1]
    waiting = tuple(first for first, second in pairs if first in before and second not in before)
    own = next((pair for pair in pairs if one in pair), None)
    if own is not None:
        return _in_turn_actions(own, one, after, tuple(other for other in waiting if other not in own))
    pair = loose_pair(sequence)
    earlier = tuple(pull for pull in _backed_off(before, one) if pull not in waiting)
    done = [Action("loosen", pull, before, waiting=waiting) for pull in earlier]
    done.append(Action("insert", one, after, one in pair, waiting=waiting))
    done += [Action("tighten", pull, after, waiting=waiting) for pull in earlier]
    if pair and one is pair[1]:
        done += [Action("tighten", lock, after, waiting=waiting) for lock in pair]
    return done + [Action("recheck", first, after, waiting=waiting) for first in _to_recheck(after)]


def _in_turn_actions(
    pair: tuple[Placed, Placed], one: Placed, after: InsertionSequence, waiting: InsertionSequence
) -> list[Action]:
    first, second = pair
    if one is first:
        return [Action("insert", first, after, loose=True, waiting=(*waiting, first))]
    return [
        Action("insert", second, after, loose=True, waiting=(*waiting, first, second)),
        Action("tighten", first, after, partner=second, waiting=waiting),
    ]


def _backed_off(before: InsertionSequence, one: Placed) -> InsertionSequence:
    """Earlier eccentric screws in the same fragment, to be loosened before the next one can pull further."""
    if one.function != "compress" or blocker((*before, one), one):
        return ()
    same = (pull for pull in before if pull.function == "compress" and pull.line == one.line)
    return tuple(pull for pull in same if pull.fragment == one.fragment)


def _to_recheck(after: InsertionSequence) -> InsertionSequence:
    """Screws to be checked again: of every pair of screws whose pull has just begun, the one that was in first."""
    found: list[Placed] = []
    for pull in after:
        if pull.function != "compress" or acts_from(after, pull) != len(after) - 1 or blocker(after, pull):
            continue
        first = _nearest_holder(after, pull) if pull is after[-1] else pull
        if first not in found:
            found.append(first)
    return tuple(found)


def _nearest_holder(after: InsertionSequence, pull: Placed) -> Placed:
    holders = [one for one in after if one.on_plate and one.fragment == pull.across]
    return min(holders, key=lambda one: abs(one.screw.s_mm - pull.screw.s_mm))
