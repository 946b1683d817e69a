"""n layouts under torsion and lateral bending, as `app.mechanics.sideways` has it for one.

The last axis of an array is the layout. The motions of a face are those of the distal one against the proximal one: w,
θx, θy, and where several lines are compared the proximal face's own θy. Units are N, mm, N·mm and radians.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from app.mechanics.contact import POINTS, face_points
from app.mechanics.layouts.faces import Faces, Touch
from app.mechanics.layouts.ladder import Column
from app.mechanics.layouts.pairs import solve_elementwise
from app.mechanics.members import IntArray
from app.mechanics.model import Construct
from app.mechanics.sections import Array, bone_at, bone_section

_BLOCK_ROUNDS, _MOST_ROUNDS = 8, 400  # as in `sideways`


@dataclass(frozen=True, slots=True)
class Layer:
    """The springs of the pressed faces: for each line those sideways, then those against turning about y.

    Attributes:
        rows: how far each is moved, per motion; shape (s, d).
        stiffness: N/mm or N·mm/rad, 0 where the point does not press; shape (s, n).
        limit: the most that each bears (N or N·mm); shape (s, n).
    """

    rows: Array
    stiffness: Array
    limit: Array


def motions(construct: Construct) -> tuple[Column, ...]:
    """The load columns that move the faces out-of-plane."""
    count = len(construct.fracture_lines)
    own = [count > 1 and line.zone_mm > 0.0 for line in construct.fracture_lines]
    return tuple(("face", k, d) for k in range(count) for d in range(3 + own[k]))


def layer(construct: Construct, faces: Faces, touch: Touch, columns: tuple[Column, ...]) -> Layer:
    """The layer of layouts that were tightened to `touch`."""
    count = touch.force.shape[1]
    size = 2 * POINTS * len(faces.spans)
    rows, stiffness, limit = np.zeros((size, len(columns))), np.zeros((size, count)), np.zeros((size, count))
    for k, line in enumerate(construct.fracture_lines):
        first, slide = faces.spans[k]
        on, pressed = touch.pressing[first:slide], touch.force[first:slide]
        at, where = face_points(construct, k), np.array([line.s_mm])
        section, sizes = bone_section(construct.bone, where), bone_at(construct.bone, where)
        radius2 = float(section.i_y[0] / section.area[0])
        column, slope = columns.index(("face", k, 0)), math.tan(math.radians(line.obliquity_deg))
        one, area = np.ones(POINTS), (at.area / at.cortex)[:, None]
        side, turn = (
            slice(2 * POINTS * k, 2 * POINTS * k + POINTS),
            slice(2 * POINTS * k + POINTS, 2 * POINTS * (k + 1)),
        )
        rows[side, column : column + 3] = np.array([one, at.y, at.y * slope]).T
        rows[turn, column + 2] = 1.0
        stiffness[side] = construct.bone.shear_modulus_mpa * area * on
        stiffness[turn] = construct.bone.modulus_mpa * area * radius2 * on
        limit[side] = faces.friction * pressed * on
        limit[turn] = pressed * radius2 / (float(sizes.width[0]) / 2.0) * on
    return Layer(rows, stiffness, limit)


def bounded(resists: Array, free: Array, springs: Layer) -> tuple[Array, IntArray]:
    """Forces along the motions, (d, n), by springs that each bear no more than their limit; and what did not end.

    Args:
        resists: inverse of the motions' compliance; shape (d, d, n).
        free: motions without the springs; shape (d, n).
        springs: the springs.
    """
    out = np.zeros_like(free)
    todo = np.flatnonzero(springs.stiffness.any(axis=0) & free.any(axis=0))
    stiffness, limit, resists = springs.stiffness.take(todo, 1), springs.limit.take(todo, 1), resists.take(todo, 2)
    pushed = np.einsum("abn,bn->an", resists, free.take(todo, 1))
    yields, rows = np.zeros(stiffness.shape), springs.rows
    for round_ in range(_MOST_ROUNDS):
        if not len(todo):
            break
        force, own = _forces(rows, stiffness, yields * limit, yields == 0.0, (resists, pushed))
        slack = 1e-12 * (1.0 + limit)
        over = np.where(abs(own) > limit + slack, np.sign(own), 0.0)
        over = np.where(yields == 0.0, over, np.where(yields * own > limit - slack, yields, 0.0))
        wrong = over != yields
        going = wrong.any(axis=0)
        done, go = np.flatnonzero(~going), np.flatnonzero(going)
        out[:, todo[done]] = rows.T @ force.take(done, 1)
        wrong, over = wrong.take(go, 1), over.take(go, 1)
        if round_ >= _BLOCK_ROUNDS:
            least = np.zeros_like(wrong)
            least[wrong.argmax(axis=0), np.arange(len(go))] = True
            wrong &= least
        yields = np.where(wrong, over, yields.take(go, 1))
        todo, stiffness, limit = todo[go], stiffness.take(go, 1), limit.take(go, 1)
        resists, pushed = resists.take(go, 2), pushed.take(go, 1)
    return out, todo


def _forces(
    rows: Array, stiffness: Array, yielding: Array, sticks: Array, system: tuple[Array, Array]
) -> tuple[Array, Array]:
    """Forces of the springs, and what each would bear by itself; both (s, n)."""
    size, (resists, pushed) = rows.shape[1], system
    acts = np.where(sticks, stiffness, 0.0)
    matrix: list[list[Array]] = []
    for a in range(size):
        matrix.append([resists[a, b] + (rows[:, a] * rows[:, b]) @ acts for b in range(a + 1)])
    moved = solve_elementwise(matrix, pushed + rows.T @ yielding)
    own = -stiffness * (rows @ moved)
    return np.where(sticks, own, yielding), own
