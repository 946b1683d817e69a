"""The construct under torsion and lateral bending: what leaves the profile plane.

Where tightening presses the fracture faces, they resist both: friction holds each pressed point sideways, up to what it
bears with the force that presses it there, and the pressed layer resists turning about the y axis until its edge opens.
Elsewhere a line counts as open; that is a lower bound, since a load that closes an edge would add stiffness. Units are
N, mm, N·mm and radians.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from app.mechanics.contact import Interface, face_points
from app.mechanics.frame import Frame
from app.mechanics.sections import Array, bone_at, bone_section
from app.mechanics.states import State, both_supports
from app.mechanics.touching import UnresolvedError

_BLOCK_ROUNDS, _MOST_ROUNDS = 8, 400


@dataclass(frozen=True, slots=True)
class Layer:
    """The n springs of the pressed faces out-of-plane, over the m kept unknowns.

    Attributes:
        rows: how far each spring is moved, per unknown; shape (n, m).
        stiffness: N/mm across the profile plane, N·mm/rad against turning; shape (n,).
        limit: the most that each bears (N or N·mm); shape (n,).
    """

    rows: Array
    stiffness: Array
    limit: Array


@dataclass(frozen=True, slots=True)
class Sideways:
    """The construct out-of-plane, as supported.

    Attributes:
        columns: displacements per unit torque (as supported) and per unit lateral moment (ends that turn freely), with
            every line open, then per unit force of each spring of the layer; shape (m, 2 + n).
        layer: the springs of the pressed faces.
        compliance: displacement of each of them per unit force of each other one; shape (n, n).
    """

    columns: Array
    layer: Layer
    compliance: Array

    def displacement(self, torsion_nmm: float, lateral_nmm: float) -> Array:
        """The kept out-of-plane unknowns under a torque and a lateral moment (mm, radians); shape (m,).

        Raises:
            UnresolvedError: it could not be settled which parts of the faces slide.
        """
        loaded = self.columns[:, :2] @ np.array([torsion_nmm, lateral_nmm])
        if not len(self.layer.rows):
            return np.asarray(loaded)
        force = bounded(self.compliance, self.layer.rows @ loaded, self.layer)
        return np.asarray(loaded + self.columns[:, 2:] @ force)


def out_of_plane(frame: Frame, interface: Interface, state: State) -> tuple[Sideways, Sideways]:
    """The construct out-of-plane with ball joints, and as supported; `state` is that after tightening.

    Where the supports are ball joints, both are the same object.
    """
    top, layer = frame.top, _layer(frame, interface, state)
    load = np.zeros((3 * top.count, 2 + len(layer.rows)))
    load[3 * top.distal + 1, 0] = 1.0
    load[3 * top.proximal + 2, 1], load[3 * top.distal + 2, 1] = -1.0, 1.0
    load[:, 2:] = layer.rows.T
    ball, chosen = both_supports(frame, 1, load, 1)
    with_balls = Sideways(ball, layer, layer.rows @ ball[:, 2:])
    return with_balls, with_balls if chosen is ball else Sideways(chosen, layer, layer.rows @ chosen[:, 2:])


def _layer(frame: Frame, interface: Interface, state: State) -> Layer:
    """Springs at every pressed point: G·w/t sideways and E·w·I_y/(A·t) against turning about y.

    w is the area of the point, A and I_y those of the section, t the cortex. Sideways a point bears µ·r, where r is
    what presses it: friction that holds in the profile plane turns with the force that asks for it. Against turning it
    bears r·I_y/(A·c), the moment at which the edge, c = width/2 away, opens.
    """
    construct, size = frame.construct, 3 * frame.top.count
    rows, stiffness, limit = [np.zeros((0, size))], [np.zeros(0)], [np.zeros(0)]
    for k, line in enumerate(construct.fracture_lines):
        points = interface.opening[k]
        on = state.interface.pressing[points]
        if not on.any():
            continue
        at, where = face_points(construct, k), np.array([line.s_mm])
        section, sizes = bone_section(construct.bone, where), bone_at(construct.bone, where)
        radius2 = float(section.i_y[0] / section.area[0])
        pressed = state.interface.force[points][on]
        y, slope = at.y[on], math.tan(math.radians(line.obliquity_deg))
        one = np.ones_like(y)
        right, first = 3 * frame.top.right[k], 3 * frame.top.left[k]
        for each in (np.array([one, y, y * slope]).T, np.array([0.0 * y, 0.0 * y, one]).T):
            part = np.zeros((len(y), size))
            part[:, right : right + 3], part[:, first : first + 3] = each, -each
            rows.append(part)
        area = at.area[on] / at.cortex
        stiffness += [construct.bone.shear_modulus_mpa * area, construct.bone.modulus_mpa * area * radius2]
        limit += [interface.friction * pressed, pressed * radius2 / (float(sizes.width[0]) / 2.0)]
    return Layer(np.concatenate(rows), np.concatenate(stiffness), np.concatenate(limit))


def bounded(compliance: Array, free: Array, layer: Layer) -> Array:
    """Forces of springs that each bear no more than their limit: f = −k·q within ±limit, with q = free + C·f.

    The matrix C + 1/k is positive definite, so there is one answer, and the least-index rule finds it.

    Args:
        compliance: C, displacement of each spring per unit force of each other one; shape (n, n).
        free: displacements without their forces; shape (n,).
        layer: stiffness and limit of each.

    Raises:
        UnresolvedError: the search did not end.
    """
    count, limit, stiffness = len(free), layer.limit, layer.stiffness
    yields = np.zeros(count)
    slack = 1e-12 * (1.0 + limit)
    for round_ in range(_MOST_ROUNDS):
        force = yields * limit
        here = np.flatnonzero(yields == 0.0)
        if len(here):
            matrix = compliance[here[:, None], here]
            matrix.flat[:: len(here) + 1] += 1.0 / stiffness[here]
            force[here] = np.linalg.solve(matrix, -(free + compliance @ force)[here])
        trial = np.where(yields == 0.0, force, -stiffness * (free + compliance @ force))
        over = np.where(abs(trial) > limit + slack, np.sign(trial), 0.0)
        over = np.where(yields == 0.0, over, np.where(yields * trial > limit - slack, yields, 0.0))
        wrong = np.flatnonzero(over != yields)
        if not len(wrong):
            return force
        if round_ >= _BLOCK_ROUNDS:
            wrong = wrong[:1]
        yields[wrong] = over[wrong]
    message = "which parts of the faces slide sideways could not be settled"
    raise UnresolvedError(message)
