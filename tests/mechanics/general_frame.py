"""The exported frame built and solved in PyNiteFEA, an independent general frame program."""

from __future__ import annotations

import math
from itertools import count

from Pynite import Analysis, FEModel3D

from app.mechanics.export import FrameSpring, PlainFrame
from app.mechanics.model import Supports

# Its reactions, for which nobody asks here, would take half of its time; displacements are worked out before them.
Analysis._calc_reactions = lambda *_, **__: None

_RIGID = (1e9, 4e9)  # N/mm; far stiffer and rounding would show, so two runs are extrapolated to rigid arms


_TIP_Z = 39.0


def _depth_of(name: str) -> float:
    """PyNite joins a member to every node it passes, so parts that cross in the profile plane are set apart in z.

    In-plane that changes no answer, nor do contact points on either side of the plane. Out-of-plane the tips of the
    bone's arms are left free to follow their arm.
    Springs run
    one mm along z, from 39 to 40.
    """
    part, *rest = name.split()
    if part == "bone":
        return 10.0 * int(rest[0])
    if part == "contact":
        return (20.0 + 4.0 * int(rest[0])) * (1.0 if rest[1] == "right" else -1.0)
    return _TIP_Z if part in ("cortex", "patch") else 40.0


class GeneralFrame:
    """One plane of a PlainFrame in PyNite: 'in' frees DX, DY, RZ of every node, 'out' DZ, RX, RY."""

    def __init__(self, plain: PlainFrame, plane: str, supports: Supports, arms: tuple[float, ...] = _RIGID) -> None:
        self.plain, self.plane = plain, plane
        self.models = [_Model(plain, plane, supports, rigid) for rigid in arms]

    def load(self, node: str, direction: str, value: float, case: str | None = None) -> None:
        """Load a node; loads of one named case are solved together and apart from other cases."""
        for one in self.models:
            if case is not None and case not in one.model.load_combos:
                one.model.add_load_combo(case, {case: 1.0})
            one.model.add_node_load(node, direction, value, case or "Case 1")

    def solve(self) -> None:
        for one in self.models:
            one.model.analyze_linear(check_stability=False)

    def displacement(self, node: str) -> tuple[float, ...]:
        """Error of an arm of stiffness R goes with 1/R: extrapolated linearly in 1/R to nil."""
        soft, hard = (one.displacement(node) for one in self.models)
        ratio = _RIGID[1] / _RIGID[0]
        return tuple((ratio * h - s) / (ratio - 1.0) for s, h in zip(soft, hard, strict=True))


class _Model:
    def __init__(self, plain: PlainFrame, plane: str, supports: Supports, rigid: float) -> None:
        self.plane, self.rigid, self.number = plane, rigid, count()
        self.model = FEModel3D()
        self.model.add_material("unit", 1.0, 1.0, 0.3, 0.0)
        for name, (x, y) in plain.nodes.items():
            self._node(name, x, y, _depth_of(name))
        for m in plain.members:
            self._member(m.i, m.j, m.e * m.area, m.e * m.i_y, m.e * m.i_z, m.g * m.torsion)
        for i, j in plain.arms:
            self._arm(i, j)
        for spring in plain.springs:
            self._spring(spring)
        for bar in plain.bars:
            self._bar(bar.i, bar.j, bar.along, bar.stiffness)
        self._support(plain.proximal, supports.proximal == "held", True)
        self._support(plain.distal, supports.distal == "held", False)

    def _node(self, name: str, x: float, y: float, z: float) -> None:
        self.model.add_node(name, x, y, z)
        if self.plane == "in":
            self.model.def_support(name, False, False, True, True, True, False)
        elif z != _TIP_Z:
            self.model.def_support(name, True, True, False, False, False, True)

    def _support(self, name: str, held: bool, first: bool) -> None:
        if self.plane == "in":
            self.model.def_support(name, first, True, True, True, True, held)
        else:
            self.model.def_support(name, True, True, True, first, held, True)

    def _member(self, i: str, j: str, ea: float, ei_y: float, ei_z: float, gj: float) -> str:
        name = f"m{next(self.number)}"
        self.model.add_section(name, ea, ei_y, ei_z, gj)
        self.model.add_member(name, i, j, "unit", name)
        return name

    def _arm(self, i: str, j: str) -> None:
        length = self.model.nodes[i].distance(self.model.nodes[j])
        bend = self.rigid * length**3 / 12.0
        self._member(i, j, self.rigid * length, bend, bend, self.rigid * length**3)

    def _spring(self, spring: FrameSpring) -> None:
        """A member one mm long in z.

        12EI/l³ across and GJ/l about z in-plane, EA/l and, with the far end free to slide, EI/l.
        """
        (k_u, k_v, k_turn), (k_w, k_tilt_x, k_tilt_y) = spring.in_plane, spring.out_of_plane
        if self.plane == "in":
            self._member(spring.i, spring.j, k_w, k_u / 12.0, k_v / 12.0, k_turn)
        else:
            name = self._member(spring.i, spring.j, k_w, k_tilt_y, k_tilt_x, 0.0)
            # where it doesn't resist tilting it bears nothing across either, and has nothing to release
            self.model.def_releases(name, Dyj=k_tilt_x > 0.0, Dzj=k_tilt_y > 0.0)

    def _bar(self, i: str, j: str, along: tuple[float, float], stiffness: float) -> None:
        at, name = self.model.nodes[j], f"n{next(self.number)}"
        self._node(name, at.X + along[0], at.Y + along[1], self.model.nodes[i].Z)
        self._arm(j, name)
        self.model.add_spring(f"s{next(self.number)}", i, name, stiffness)

    def displacement(self, node: str) -> tuple[float, float, float]:
        found = self.model.nodes[node]
        parts = (found.DX, found.DY, found.RZ) if self.plane == "in" else (found.DZ, found.RX, found.RY)
        x, y, z = (float(part["Combo 1"]) for part in parts)
        assert all(math.isfinite(value) for value in (x, y, z))
        return x, y, z
