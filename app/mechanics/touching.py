"""Which points of the fracture faces press, and which lines slide.

At every point either the gap is zero or more without force, or the point presses (unilateral contact); along every line
the shear force stays within the friction that its pressing points bear (Coulomb). Shapes: k interface coordinates.
"""

from __future__ import annotations

import math
from collections.abc import Collection
from contextlib import suppress
from dataclasses import dataclass, replace
from functools import cache
from itertools import combinations, product

import numpy as np

from app.mechanics.contact import Interface
from app.mechanics.members import BoolArray, IntArray
from app.mechanics.sections import Array

LEAST_PRESS_N = 1e-6
_BLOCK_ROUNDS = 8
_MOST_ROUNDS = 100
_MOST_CHANGES = 400
_SLACK = 1e-9  # relative: what friction bears is not told apart closer than this
_FARTHEST = 1e6  # of the load: nothing that opens there opens at all
_STILL = 1e-14


class UnresolvedError(ArithmeticError):
    """It could not be settled which points press and which lines slide."""


@dataclass(frozen=True, slots=True)
class InterfaceState:
    """Contact in one state.

    Attributes:
        force: force on each interface coordinate (N), positive where it pushes the faces apart or the distal face
            towards the plate; shape (k,).
        pressing: which openings press; shape (k,).
        slipping: for each line 0 where it sticks or is open, else the sign of its shear force, which is all that
            friction bears; shape (lines,).
    """

    force: Array
    pressing: BoolArray
    slipping: IntArray


def untouched(interface: Interface) -> InterfaceState:
    """No point presses."""
    count = len(interface.rows)
    return InterfaceState(np.zeros(count), np.zeros(count, dtype=bool), np.zeros(interface.lines, dtype=np.intp))


def press(
    interface: Interface,
    compliance: Array,
    free: Array,
    joined: BoolArray,
    offset: Array,
    begin: InterfaceState | None = None,
) -> InterfaceState:
    """Find which points press and which lines slide.

    A point that presses has the force r = −k·(q + c), with its stiffness k and c = clearance + offset; a line that
    sticks has the shear force t = −k·(q + offset), and one that slides t = ±µ·Σr. Without sliding the matrix is
    positive definite, and the least-index rule ends (Murty, Linear Complementarity, ch. 4; from memory). Where sliding
    keeps the search from ending, contact is followed from before anything moved; and where that ends in a corner, the
    search begins from every contact that one line alone can have, or two.

    Args:
        interface: the interface coordinates.
        compliance: displacement of each coordinate per unit force of each other one (mm/N); shape (k, k).
        free: coordinates without interface forces (mm); shape (k,).
        joined: springs that act in both directions: those of the tightened lag screws; shape (k,).
        offset: value added to a coordinate: a lag screw's for its force of tightening, a line's for how far it has slid
            before (mm); shape (k,).
        begin: a state that is likely near: the search begins with its contact, else with whatever would overlap.

    Raises:
        UnresolvedError: no way ended.
    """
    gap = free + interface.clearance + offset
    if not joined.any() and (gap[interface.opening] >= 0.0).all():
        return untouched(interface)
    search = Search(interface, compliance, gap, joined)
    found = None if begin is None else search.result(begin)
    found = search.result() if found is None else found
    if found is None:
        try:
            way = Way(interface, compliance, joined, gap - interface.clearance)
            _, found = way.follow(untouched(interface), interface.clearance, 1.0)
        except UnresolvedError:
            found = search.from_anywhere()
            if found is None:
                raise
    pressing = found.pressing.copy()  # what rounding alone makes touch presses nothing
    pressing[interface.opening] &= found.force[interface.opening] > LEAST_PRESS_N
    return replace(found, pressing=pressing)


@dataclass(frozen=True, slots=True)
class Search:
    """The search for the points that press and the lines that slide.

    Attributes:
        interface: the interface coordinates.
        compliance: displacement of each coordinate per unit force of each other one (mm/N); shape (k, k).
        gap: coordinates without interface forces, with clearance and offset (mm); shape (k,).
        joined: springs that act in both directions; shape (k,).
    """

    interface: Interface
    compliance: Array
    gap: Array
    joined: BoolArray

    def result(self, begin: InterfaceState | None = None, rounds: int = _BLOCK_ROUNDS) -> InterfaceState | None:
        """The state in which all conditions hold; None where the search, begun as in `begin`, did not end.

        With `begin` it has so many `rounds`, without it more.
        """
        at = self.interface
        if begin is None:
            pressing, slipping = np.zeros(len(self.gap), dtype=bool), np.zeros(at.lines, dtype=np.intp)
            pressing[at.opening] = self.gap[at.opening] < 0.0
        else:
            pressing, slipping = begin.pressing, begin.slipping
        for round_ in range(_MOST_ROUNDS if begin is None else rounds):
            force = self.forces(pressing, slipping)
            distance = self.gap + self.compliance @ force
            wrong = self._wrong_openings(pressing, force, distance)
            change = self._slips(pressing, slipping, force, distance)
            slides = (change != slipping).any()
            if not slides and not wrong.any():
                return InterfaceState(force, pressing, slipping)
            if round_ >= _BLOCK_ROUNDS:  # one kind at a time, what slides before what presses, and of that the least
                wrong[np.flatnonzero(wrong)[0 if slides else 1 :]] = False
            pressing, slipping = pressing ^ wrong, change
        return None

    def from_anywhere(self) -> InterfaceState | None:
        """A state in which all conditions hold, searched for from every contact that one line alone can have, or two.

        A plane face presses from one of its edges as far as it goes. Of several states found the one with the least
        forces is taken, which is the same seen from either end; None where there is none.
        """
        lines = range(self.interface.lines)
        return self._least([(line,) for line in lines]) or self._least(list(combinations(lines, 2)))

    def _least(self, touching: list[tuple[int, ...]]) -> InterfaceState | None:
        """Of the states found from contact at some lines, the one with the least forces."""
        at, found = self.interface, list[InterfaceState]()
        for lines in touching:
            for faces in product(_plane_faces(at.opening.shape[1]), repeat=len(lines)):
                begin = untouched(at)
                for line, (face, slip) in zip(lines, faces, strict=True):
                    begin.pressing[at.opening[line]], begin.slipping[line] = face, slip
                with suppress(np.linalg.LinAlgError):
                    state = self.result(begin, 1 if len(lines) > 1 else _BLOCK_ROUNDS)
                    found += [state] if state is not None else []
        return min(found, key=lambda state: float(np.abs(state.force).sum()), default=None)

    def _wrong_openings(self, pressing: BoolArray, force: Array, distance: Array) -> BoolArray:
        """Openings that pull, and such as overlap without force; shape (k,)."""
        at = self.interface
        wrong = np.where(pressing, force < 0.0, distance < -1e-12)
        wrong[at.sliding] = wrong[at.lag] = False
        return wrong

    def _slips(self, pressing: BoolArray, slipping: IntArray, force: Array, distance: Array) -> IntArray:
        """Which lines slide next: those that stick beyond their friction begin to, those it would hold stop."""
        at, out = self.interface, np.zeros_like(slipping)
        for k, (first, slide) in enumerate(at.spans):
            if not pressing[first:slide].any():
                continue
            bears = max(at.friction * float(force[first:slide].sum()), 0.0)
            slack, slip = _SLACK * (1.0 + bears), int(slipping[k])
            if slip:
                out[k] = slip if -slip * at.stiffness[slide] * distance[slide] > bears - slack else 0
            elif abs(force[slide]) > bears + slack:
                out[k] = math.copysign(1.0, force[slide])
        return out

    def forces(self, pressing: BoolArray, slipping: IntArray) -> Array:
        """Forces with these points pressing and these lines sliding; shape (k,).

        With t = ±µ·Σr each pressing point of a sliding line moves the others by its own force, and by the shear force
        that it lets the line bear.
        """
        at, force = self.interface, np.zeros(len(self.gap))
        acting = pressing | self.joined
        for k, (first, slide) in enumerate(at.spans):
            acting[slide] = not slipping[k] and pressing[first:slide].any()
        here = acting.nonzero()[0]
        if not len(here):
            return force
        matrix = self.compliance[here[:, None], here]
        matrix.flat[:: len(here) + 1] += 1.0 / at.stiffness[here]
        sliding = [(slip, *at.spans[k]) for k, slip in enumerate(slipping.tolist()) if slip]
        for slip, first, slide in sliding:
            own = slice(*np.searchsorted(here, (first, slide)))
            matrix[:, own] += slip * at.friction * self.compliance[here, slide, None]
        force[here] = np.linalg.solve(matrix, -self.gap[here])
        for slip, first, slide in sliding:
            force[slide] = slip * at.friction * force[first:slide].sum()
        return force


@cache
def _plane_faces(points: int) -> tuple[tuple[tuple[bool, ...], int], ...]:
    """Which points of a plane face can press together, and its slip: from an edge as far as any, sliding or not."""
    from_near = [tuple(n < many for n in range(points)) for many in range(1, points + 1)]
    faces = dict.fromkeys([*from_near, *(one[::-1] for one in from_near)])
    return tuple((face, slip) for face in faces for slip in (0, 1, -1))


@dataclass(frozen=True, slots=True)
class Way:
    """Contact along a load that grows from nothing on top of a known state, from one change to the next.

    The forces are piecewise linear in the load.

    Attributes:
        interface: the interface coordinates.
        compliance: displacement of each coordinate per unit force of each other one (mm/N); shape (k, k).
        joined: springs that act in both directions; shape (k,).
        drive: how far the whole load moves each coordinate while no force of the interface changes (mm); shape (k,).
    """

    interface: Interface
    compliance: Array
    joined: BoolArray
    drive: Array

    def opens(self, state: InterfaceState, distance: Array, edges: list[int]) -> float | None:
        """Share of the load at which the first of the openings `edges` lets go; None where that never happens.

        `distance` holds the coordinates with clearance and offset in the state (mm); shape (k,).

        Raises:
            UnresolvedError: the changes of contact did not end.
        """
        share, _ = self.follow(state, distance, _FARTHEST, edges)
        return None if share >= _FARTHEST else share

    def follow(
        self, state: InterfaceState, distance: Array, end: float, edges: Collection[int] = ()
    ) -> tuple[float, InterfaceState]:
        """Go on until `end` times the load, or until one of the openings `edges` lets go: how far, and the state there.

        Raises:
            UnresolvedError: the changes of contact did not end.
        """
        force, pressing, slipping = state.force.copy(), state.pressing.copy(), state.slipping.copy()
        at, gone, tried = self.interface, 0.0, set[int]()
        openings = at.opening.ravel()
        for _ in range(_MOST_CHANGES):
            rate = Search(at, self.compliance, self.drive, self.joined).forces(pressing, slipping)
            moving = self.drive + self.compliance @ rate
            points = _steps(np.where(pressing, force, distance), np.where(pressing, rate, moving))[openings]
            lines, signs = self._slides((force, distance), (rate, moving), pressing, slipping)
            lines[list(tried)] = math.inf
            step = float(min(points.min(), lines.min()))
            if gone + step >= end:
                return end, InterfaceState(force + (end - gone) * rate, pressing, slipping)
            gone += step
            if step > _STILL:
                tried.clear()
            force, distance = force + step * rate, distance + step * moving
            if lines.min() <= points.min():
                line = int(lines.argmin())
                slipping[line] = signs[line]
                tried.add(line)  # at one load a line changes once: on the edge of sliding, sticking is as true
            else:
                point = int(openings[points.argmin()])
                if point in edges and pressing[point]:
                    return gone, InterfaceState(force, pressing, slipping)
                force[point] = distance[point] = 0.0
                pressing[point] = not pressing[point]
            open_lines = ~pressing[at.opening].any(axis=1)
            slipping[open_lines] = 0
            force[at.sliding[open_lines]] = 0.0
        message = "which parts of the faces press and which slide could not be settled"
        raise UnresolvedError(message)

    def _slides(
        self, here: tuple[Array, Array], change: tuple[Array, Array], pressing: BoolArray, slipping: IntArray
    ) -> tuple[Array, IntArray]:
        """For each line how much more load until it begins to slide or sticks again, and its slip from then on.

        `here` holds forces and distances, `change` their rates.
        """
        at, (force, distance), (rate, moving) = self.interface, here, change
        steps, signs = np.full(at.lines, math.inf), np.zeros(at.lines, dtype=np.intp)
        bears = at.friction * force[at.opening].sum(axis=1)
        more = at.friction * rate[at.opening].sum(axis=1)
        for k in range(at.lines):
            slide = at.sliding[k]
            if not pressing[at.opening[k]].any():
                continue
            if slipping[k]:
                spring = -slipping[k] * at.stiffness[slide]
                steps[k] = _step(spring * distance[slide] - bears[k], spring * moving[slide] - more[k])
                continue
            for sign in (1, -1):
                step = _step(bears[k] - sign * force[slide], more[k] - sign * rate[slide])
                if step < steps[k]:
                    steps[k], signs[k] = step, sign
        return steps, signs


def _step(left: float, change: float) -> float:
    """How long until what is left is gone."""
    return max(left, 0.0) / -change if change < -_STILL else math.inf


def _steps(left: Array, change: Array) -> Array:
    falling = change < -_STILL
    out = np.full(len(left), math.inf)
    out[falling] = np.maximum(left[falling], 0.0) / -change[falling]
    return out
