"""Which points of the fracture faces press and which lines slide, for n layouts at once.

The same search as in `app.mechanics.touching`, with the same rules in the same order. All points of a face move with
the three coordinates of one face against the other, its *motion*: so instead of the compliance between k points only
that between d motions is needed, and each round solves d equations, element by element. Units are N, mm and radians;
the last axis of an array is the layout.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from app.mechanics.contact import POINTS, all_lags, face_points, face_springs, lag_row, line_rows
from app.mechanics.layout import Layout
from app.mechanics.layouts.ladder import Column
from app.mechanics.layouts.pairs import solve_elementwise
from app.mechanics.members import BoolArray, IntArray
from app.mechanics.model import Construct, LagScrew
from app.mechanics.sections import Array
from app.mechanics.touching import LEAST_PRESS_N

_BLOCK_ROUNDS, _MOST_ROUNDS = 8, 100  # as in `touching`
_SLACK = 1e-9
_TURN_MM = 1e-9  # a lag screw's lever below this is none


@dataclass(frozen=True, slots=True)
class Faces:
    """The k interface coordinates of a group, in terms of the d motions of its faces.

    Attributes:
        motions: the load columns that move the faces; d of them.
        rows: the coordinates per motion, in the order of `contact.Interface`; shape (k, d).
        stiffness: spring of each coordinate (N/mm); shape (k,).
        clearance: opening left before the faces touch (mm); shape (k,).
        friction: coefficient of friction between two faces.
        spans: for each line the index of its first opening, and that of its sliding.
        lags: the lag screws, whose elongations come last.
    """

    motions: tuple[Column, ...]
    rows: Array
    stiffness: Array
    clearance: Array
    friction: float
    spans: tuple[tuple[int, int], ...]
    lags: tuple[LagScrew, ...]

    @property
    def lag(self) -> slice:
        """Where the coordinates of the lag screws are."""
        return slice(len(self.stiffness) - len(self.lags), None)

    def meet(self, moved: Array) -> bool:
        """Whether motions (d, n) close some face: it stays plane, so that one of its two edges goes first."""
        edges = [edge for first, slide in self.spans for edge in (first, slide - 1)]
        return bool((self.rows[edges] @ moved + self.clearance[edges, None] < 0.0).any())


def build_faces(construct: Construct, layout: Layout) -> Faces:
    """The interface of a group.

    A face's own turn is a motion of its own where a zone lies between the two faces and a lag screw reaches across it,
    or several lines are compared by their shear.
    """
    lags, count = all_lags(construct), len(construct.fracture_lines)
    rows6 = [lag_row(construct, layout, lag) for lag in lags]
    lever = {k for k, row, _ in rows6 if abs(row[2] + row[5]) > _TURN_MM}
    if count > 1:
        lever |= {k for k, line in enumerate(construct.fracture_lines) if line.zone_mm > 0.0}
    motions: list[Column] = [("face", k, d) for k in range(count) for d in range(3 + (k in lever))]
    total = count * (POINTS + 1) + len(lags)
    rows, stiffness, clearance = np.zeros((total, len(motions))), np.zeros(total), np.zeros(total)
    spans = []
    for k, line in enumerate(construct.fracture_lines):
        first, at = k * (POINTS + 1), motions.index(("face", k, 0))
        angle, points = math.radians(line.obliquity_deg), face_points(construct, k)
        part = slice(first, first + POINTS + 1)
        rows[part, at : at + 3] = line_rows(points.y, angle)[:, 3:]
        stiffness[part] = face_springs(construct, points)
        clearance[first : first + POINTS] = line.clearance_mm * math.cos(angle)
        spans.append((first, first + POINTS))
    for n, (k, row, spring) in enumerate(rows6):
        at, here = motions.index(("face", k, 0)), count * (POINTS + 1) + n
        rows[here, at : at + 3], stiffness[here] = row[3:], spring
        if k in lever:
            rows[here, at + 3] = row[2] + row[5]
    return Faces(tuple(motions), rows, stiffness, clearance, construct.friction.bone_bone, tuple(spans), lags)


@dataclass(slots=True)
class Touch:
    """Contact of n layouts.

    Attributes:
        force: force on each coordinate (N), as in `touching.InterfaceState`; shape (k, n).
        pressing: which openings press; shape (k, n).
        slipping: for each line 0 or the sign of its shear force while it slides; shape (lines, n).
    """

    force: Array
    pressing: BoolArray
    slipping: IntArray

    def of(self, at: IntArray) -> Touch:
        """The layouts `at` alone."""
        return Touch(self.force.take(at, 1), self.pressing.take(at, 1), self.slipping.take(at, 1))

    def put(self, at: IntArray, other: Touch) -> None:
        """Take over the layouts `at` from another one."""
        self.force[:, at], self.pressing[:, at], self.slipping[:, at] = other.force, other.pressing, other.slipping


def untouched(faces: Faces, count: int) -> Touch:
    """No point presses in any of the layouts."""
    size = len(faces.stiffness)
    return Touch(
        np.zeros((size, count)), np.zeros((size, count), dtype=bool), np.zeros((len(faces.spans), count), dtype=np.int8)
    )


@dataclass(slots=True)
class Contact:
    """The faces of n layouts with the stiffness that holds them.

    Attributes:
        faces: the interface.
        compliance: motions per unit force along each; shape (d, d, n).
        resists: its inverse; shape (d, d, n).
    """

    faces: Faces
    compliance: Array
    resists: Array

    def of(self, at: IntArray) -> Contact:
        """The layouts `at` alone."""
        return Contact(self.faces, self.compliance.take(at, 2), self.resists.take(at, 2))

    def moved(self, force: Array) -> Array:
        """Motions under forces (k, n) of the coordinates; shape (d, n)."""
        return np.asarray(np.einsum("abn,bn->an", self.compliance, self.faces.rows.T @ force))

    def press(
        self, free: Array, joined: bool, offset: Array | None = None, begin: Touch | None = None
    ) -> tuple[Touch, IntArray]:
        """Find the contact of all layouts, and the numbers of those in which the search did not end.

        Args:
            free: motions without forces at the interface; shape (d, n).
            joined: whether the lag screws act as springs.
            offset: value added to each coordinate (mm); shape (k, n).
            begin: states that are likely near.
        """
        faces = self.faces
        apart = np.broadcast_to(faces.clearance[:, None], (len(faces.clearance), free.shape[1]))
        if offset is not None:
            apart = apart + offset
        found = untouched(faces, free.shape[1])
        gap = faces.rows @ free + apart
        openings = np.concatenate([np.arange(first, slide) for first, slide in faces.spans])
        need = np.ones(free.shape[1], dtype=bool) if joined and faces.lags else (gap[openings] < 0.0).any(axis=0)
        todo = np.flatnonzero(need)
        if not len(todo):
            return found, todo
        if begin is not None:
            todo = self._search(found, todo, free, apart, joined, begin, _BLOCK_ROUNDS)
        if len(todo):
            cold = untouched(faces, free.shape[1])
            cold.pressing[openings] = gap[openings] < 0.0
            todo = self._search(found, todo, free, apart, joined, cold, _MOST_ROUNDS)
        found.pressing[openings] &= found.force[openings] > LEAST_PRESS_N
        return found, todo

    def _search(
        self, found: Touch, todo: IntArray, free: Array, apart: Array, joined: bool, begin: Touch, most: int
    ) -> IntArray:
        """Search in the layouts `todo`, write what ends into `found`, and return those that did not end."""
        opening = np.zeros((len(self.faces.stiffness), 1), dtype=bool)
        for first, slide in self.faces.spans:
            opening[first:slide] = True
        pressing, slipping = begin.pressing.take(todo, 1), begin.slipping.take(todo, 1)
        resists, apart = self.resists.take(todo, 2), apart.take(todo, 1)
        pushed = np.einsum("abn,bn->an", resists, free.take(todo, 1))
        for round_ in range(most):
            force, distance, moved = self._forces(pressing, slipping, resists, pushed, apart, joined)
            wrong = np.where(pressing, force < 0.0, distance < -1e-12) & opening
            change = self._slips(pressing, slipping, force, distance)
            slides = (change != slipping).any(axis=0)
            go_on = slides | wrong.any(axis=0)
            done, go = np.flatnonzero(~go_on), np.flatnonzero(go_on)
            settled = Touch(force, pressing, slipping).of(done)
            if self.faces.lags and len(done):
                self.of(todo[done])._refine(settled, free.take(todo[done], 1), moved.take(done, 1), joined)
            found.put(todo[done], settled)
            if not len(go):
                return todo[:0]
            wrong = wrong.take(go, 1)
            if round_ >= _BLOCK_ROUNDS:  # one kind at a time, and of that the least
                least = np.zeros_like(wrong)
                least[wrong.argmax(axis=0), np.arange(len(go))] = True
                wrong &= least & ~slides[go]
            pressing, slipping = pressing.take(go, 1) ^ wrong, change.take(go, 1)
            if len(go) < len(todo):
                todo, resists, pushed, apart = todo[go], resists.take(go, 2), pushed.take(go, 1), apart.take(go, 1)
        return todo

    def _forces(
        self, pressing: BoolArray, slipping: IntArray, resists: Array, pushed: Array, apart: Array, joined: bool
    ) -> tuple[Array, Array, Array]:
        """Forces of the coordinates and where they come to lie, gap and force together, (k, n); the motions, (d, n)."""
        faces, rows = self.faces, self.faces.rows
        size, count = rows.shape[1], pressing.shape[1]
        acts = pressing * faces.stiffness[:, None]
        for k, (first, slide) in enumerate(faces.spans):
            sticks = pressing[first:slide].any(axis=0) & (slipping[k] == 0)
            acts[slide] = np.where(sticks, faces.stiffness[slide], 0.0)
        if joined and faces.lags:
            acts[faces.lag] = faces.stiffness[faces.lag, None]
        pairs = [(a, b) for a in range(size) for b in range(a + 1)]
        products = np.array([rows[:, a] * rows[:, b] for a, b in pairs])
        held = products @ acts
        matrix = [[resists[a, b] for b in range(size)] for a in range(size)]
        for (a, b), more in zip(pairs, held, strict=True):
            matrix[a][b] = matrix[a][b] + more
            matrix[b][a] = matrix[a][b]
        right = pushed - rows.T @ (acts * apart)
        slipped = slipping.any()
        if slipped:
            self._drag(matrix, right, acts, slipping, apart)
        moved = (_solve_any if slipped else solve_elementwise)(matrix, right.reshape(size, count))
        distance = rows @ moved + apart
        force = -acts * distance
        for k, (first, slide) in enumerate(faces.spans):
            sliding = slipping[k] != 0
            if sliding.any():
                bears = slipping[k] * faces.friction * force[first:slide].sum(axis=0)
                force[slide] = np.where(sliding, bears, force[slide])
        return force, distance, np.asarray(moved)

    def _refine(self, touch: Touch, free: Array, moved: Array, joined: bool) -> None:
        """Take from the forces what they would move the faces beyond where those were found: one step of refinement.

        Where a fragment hangs on one screw and a lag, the inverse of the compliance has lost digits, and the stiff
        springs of the faces make much of them.
        """
        beyond = free + self.moved(touch.force) - moved
        pushed, still = np.einsum("abn,bn->an", self.resists, beyond), np.zeros_like(touch.force)
        more, _, _ = self._forces(touch.pressing, touch.slipping, self.resists, pushed, still, joined)
        touch.force += more

    def _drag(self, matrix: list[list[Array]], right: Array, acts: Array, slipping: IntArray, apart: Array) -> None:
        """Add the shear force of the lines that slide, ±µ·Σr, to the equations."""
        rows, size = self.faces.rows, len(matrix)
        for k, (first, slide) in enumerate(self.faces.spans):
            share = slipping[k] * self.faces.friction
            if not share.any():
                continue
            pressed = rows[first:slide].T @ acts[first:slide]
            right -= rows[slide][:, None] * (share * (acts[first:slide] * apart[first:slide]).sum(axis=0))
            for a in np.flatnonzero(rows[slide]):
                for b in range(size):
                    matrix[a][b] = matrix[a][b] + rows[slide, a] * share * pressed[b]

    def _slips(self, pressing: BoolArray, slipping: IntArray, force: Array, distance: Array) -> IntArray:
        """Which lines slide next: those that stick beyond their friction begin to, those it would hold stop."""
        faces, out = self.faces, np.zeros_like(slipping)
        for k, (first, slide) in enumerate(faces.spans):
            bears = np.maximum(faces.friction * force[first:slide].sum(axis=0), 0.0)
            slack = _SLACK * (1.0 + bears)
            goes_on = -slipping[k] * faces.stiffness[slide] * distance[slide] > bears - slack
            begins = np.where(abs(force[slide]) > bears + slack, np.copysign(1.0, force[slide]), 0.0)
            next_ = np.where(slipping[k] != 0, np.where(goes_on, slipping[k], 0), begins)
            out[k] = np.where(pressing[first:slide].any(axis=0), next_, 0)
        return out


def _solve_any(matrix: Sequence[Sequence[Array]], right: Array) -> Array:
    """Solve systems of any kind, one for each element, by elimination without pivots."""
    size = len(matrix)
    work = [list(row) for row in matrix]
    for r in range(size):
        for t in range(r + 1, size):
            share = work[t][r] / work[r][r]
            for c in range(r + 1, size):
                work[t][c] = work[t][c] - share * work[r][c]
            right[t] -= share * right[r]
    for r in reversed(range(size)):
        for s in range(r + 1, size):
            right[r] -= work[r][s] * right[s]
        right[r] /= work[r][r]
    return right


def contact_of(faces: Faces, compliance: Array) -> Contact:
    """The contact of layouts whose motions have this `compliance`, (d, d, n)."""
    size = len(compliance)
    matrix = [[compliance[a, b] for b in range(a + 1)] for a in range(size)]
    unit = np.zeros(compliance.shape)
    unit[range(size), range(size)] = 1.0
    return Contact(faces, compliance, solve_elementwise(matrix, unit))
