"""A construct as plain nodes, members and springs, with nothing condensed, for any general frame program."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from app.mechanics.contact import POINTS, Interface, face_points
from app.mechanics.frame import Frame
from app.mechanics.screw_joints import plate_height
from app.mechanics.sections import bone_section, full_plate_section, net_plate_section
from app.mechanics.shaft_members import BONE_PIECES, Members

_SAME_MM = 1e-9


@dataclass(frozen=True, slots=True)
class FrameMember:
    """A prismatic member between two nodes; z is the axis out of the profile plane.

    Attributes:
        i: name of the first node.
        j: name of the second node.
        e: Young's modulus (MPa).
        g: shear modulus (MPa).
        area: area A (mm²).
        i_y: second moment of area I_y (mm⁴).
        i_z: second moment of area I_z (mm⁴).
        torsion: torsion constant J (mm⁴).
    """

    i: str
    j: str
    e: float
    g: float
    area: float
    i_y: float
    i_z: float
    torsion: float


@dataclass(frozen=True, slots=True)
class FrameSpring:
    """Springs between two coincident nodes `i` and `j` (N/mm and N·mm/rad).

    `in_plane` holds those of (u, v, θz), `out_of_plane` those of (w, θx, θy).
    """

    i: str
    j: str
    in_plane: tuple[float, float, float]
    out_of_plane: tuple[float, float, float]


@dataclass(frozen=True, slots=True)
class FrameBar:
    """An axial spring between two coincident nodes `i` and `j` of the profile plane.

    `along` is the unit vector (x, y) of its direction, `stiffness` its stiffness (N/mm).
    """

    i: str
    j: str
    along: tuple[float, float]
    stiffness: float


@dataclass(frozen=True, slots=True)
class PlainFrame:
    """The whole frame.

    Attributes:
        nodes: positions by name: x along the shaft and y towards the plate (mm).
        members: the prismatic members.
        arms: rigid arms, as pairs of nodes.
        springs: springs between coincident nodes.
        bars: axial springs of the interface.
        proximal: node of the proximal bone end.
        distal: node of the distal bone end.
        faces: nodes of the two faces (proximal, distal) of each fracture line.
    """

    nodes: dict[str, tuple[float, float]]
    members: tuple[FrameMember, ...]
    arms: tuple[tuple[str, str], ...]
    springs: tuple[FrameSpring, ...]
    bars: tuple[FrameBar, ...]
    proximal: str
    distal: str
    faces: tuple[tuple[str, str], ...]


class _Drawing:
    """Collects the parts of a frame; nodes of the same name are one node."""

    def __init__(self, frame: Frame) -> None:
        self.frame = frame
        self.construct = frame.construct
        self.stations = frame.blocks.diagonal.shape[2] - 2
        self.nodes: dict[str, tuple[float, float]] = {}
        self.members: list[FrameMember] = []
        self.arms: list[tuple[str, str]] = []
        self.springs: list[FrameSpring] = []
        self.bars: list[FrameBar] = []

    def node(self, name: str, x: float, y: float) -> str:
        """Add a node at (x, y) in mm unless there is one of that name; its name."""
        self.nodes.setdefault(name, (float(x), float(y)))
        return name

    def station(self, part: str, chain: int, slot: int) -> str:
        """Name of a node in a fragment's chain; its ends have the name of the kept node."""
        if chain < 0:
            return f"{part} line {-1 - chain} {slot}"
        if part == "plate" and slot == 0:
            return f"plate line {chain - 1} {len(self.frame.top.plate[chain - 1]) - 1}"
        if part == "plate" and slot == self.stations + 1:
            return f"plate line {chain} 0"
        return f"{part} {chain} {slot}"

    def arm(self, name: str, node: str, x: float, y: float) -> str:
        """Add a rigid arm from a node to a new one at (x, y) in mm; the name of the new one."""
        end = self.node(name, x, y)
        self.arms.append((node, end))
        return end

    def bone(self) -> None:
        """Add the bone members, each in its prismatic pieces."""
        members, bone = self.frame.bone, self.construct.bone
        for n in range(len(members.chain)):
            s = np.linspace(members.s_i[n], members.s_j[n], BONE_PIECES + 1)
            section = bone_section(bone, (s[1:] + s[:-1]) / 2.0)
            names = self._pieces("bone", members, n, [(x, 0.0) for x in s])
            for k in range(BONE_PIECES):
                sizes = (float(p[k]) for p in (section.area, section.i_y, section.i_z, section.torsion))
                self.members.append(
                    FrameMember(names[k], names[k + 1], bone.modulus_mpa, bone.shear_modulus_mpa, *sizes)
                )

    def _pieces(self, part: str, members: Members, n: int, points: list[tuple[float, float]]) -> list[str]:
        chain = int(members.chain[n])
        first, last = (self.station(part, chain, int(slot[n])) for slot in (members.slot_i, members.slot_j))
        names = [first, *(f"{part} {chain} member {n} {k}" for k in range(1, len(points) - 1)), last]
        return [self.node(name, x, y) for name, (x, y) in zip(names, points, strict=True)]

    def plate(self) -> None:
        """Add the plate members, with the net section at holes and the full section between them."""
        members, plate = self.frame.plate, self.construct.plate
        full, net = full_plate_section(plate), net_plate_section(plate)
        for n in range(len(members.chain)):
            ends = np.array([members.s_i[n], members.s_j[n]])
            y = plate_height(self.construct, ends)
            length = math.hypot(ends[1] - ends[0], y[1] - y[0])
            half = plate.hole_length_mm / 2.0 / length
            at = [0.0, 1.0]
            at += [half * members.open_i[n]] if members.open_i[n] else []
            at += [1.0 - half * members.open_j[n]] if members.open_j[n] else []
            at.sort()
            points = [(ends[0] + f * (ends[1] - ends[0]), y[0] + f * (y[1] - y[0])) for f in at]
            names = self._pieces("plate", members, n, points)
            for k, (a, b) in enumerate(pairwise(at)):
                at_hole = (members.open_i[n] and a == 0.0) or (members.open_j[n] and b == 1.0)
                p = net if at_hole else full
                sizes = (plate.modulus_mpa, plate.shear_modulus_mpa, p.area, p.i_y, p.i_z, p.torsion)
                self.members.append(FrameMember(names[k], names[k + 1], *sizes))

    def screws(self) -> None:
        """Add the screws that hold bone: locking ones as members and springs, others as springs of the patch."""
        joints, at = self.frame.joints, self.frame.joints.geometry
        for n, (screw, (chain, slot)) in enumerate(zip(joints.screws, self.frame.places.tolist(), strict=True)):
            s = self.construct.plate.hole_s_mm[screw.hole_number - 1]
            if chain >= 0:
                plate, near, far = self.station("plate", chain, slot), f"bone {chain} {slot}", f"bone {chain} {slot}"
            else:
                line = next(k for k, nodes in enumerate(self.frame.layout.lines) if slot in nodes.holes)
                plate = f"plate line {line} {self.frame.layout.lines[line].holes.index(slot)}"
                near, far = (self._face(line, f) for f in (screw.near_fragment, screw.far_fragment))
            if screw.kind.startswith("locking"):
                self._locking(n, s, (plate, near, far))
            else:
                top = self.arm(f"seat {n}", plate, s, at.y_surface[n])
                bone = self.arm(f"patch {n}", near if screw.near_fragment is not None else far, s, at.y_surface[n])
                if joints.patch is not None:
                    self._spring(bone, top, joints.patch[:, n])

    def _face(self, line: int, fragment: int | None) -> str:
        return f"bone {line} {self.stations + 1}" if fragment is None or fragment <= line else f"bone {line + 1} 0"

    def _spring(self, i: str, j: str, stiffness: np.ndarray) -> None:
        diagonal = stiffness[:, range(3), range(3)].tolist()
        self.springs.append(FrameSpring(i, j, tuple(diagonal[0]), tuple(diagonal[1])))

    def _locking(self, n: int, s: float, ties: tuple[str, str, str]) -> None:
        joints, at, screw = self.frame.joints, self.frame.joints.geometry, self.frame.joints.screws[n]
        d = screw.core_mm
        inertia = math.pi * d**4 / 64.0
        sizes = (screw.modulus_mpa, screw.modulus_mpa / 2.6, math.pi * d**2 / 4.0, inertia, inertia, 2.0 * inertia)
        before = self.arm(f"head {n}", ties[0], s, at.y_under[n])
        half = len(at.y_nodes) // 2
        for k in range(half if screw.kind == "locking-1" else 2 * half):
            here = before
            if at.y_nodes[k, n] < self.nodes[before][1] - _SAME_MM:
                here = self.node(f"screw {n} {k}", s, at.y_nodes[k, n])
                self.members.append(FrameMember(before, here, *sizes))
            spring, turning = joints.springs[:, n, k].tolist()
            if spring:
                bone = self.arm(f"cortex {n} {k}", ties[1 + (k >= half)], s, at.y_nodes[k, n])
                self.springs.append(FrameSpring(bone, here, (spring, spring, 0.0), (spring, 0.0, turning)))
            before = here

    def contact(self, interface: Interface, active: np.ndarray) -> None:
        """Add the springs of the interface coordinates that act."""
        for index in np.flatnonzero(active[: interface.lines * (POINTS + 1)]):
            k, kind = divmod(int(index), POINTS + 1)
            line = self.construct.fracture_lines[k]
            angle = math.radians(line.obliquity_deg)
            heights = face_points(self.frame.construct, k).y
            # every point of the line slides alike: a height at which no arm of another point runs
            y = float(heights[kind] if kind < POINTS else 0.3 * heights[0])
            shift = -y * math.tan(angle)
            ends = []
            for name, face, s in (
                ("left", f"bone {k} {self.stations + 1}", self.frame.layout.chains[k].end_mm),
                ("right", f"bone {k + 1} 0", self.frame.layout.chains[k + 1].start_mm),
            ):
                ends.append(self.arm(f"contact {index} {name}", face, s + shift, y))
            along = (math.cos(angle), math.sin(angle)) if kind < POINTS else (-math.sin(angle), math.cos(angle))
            self.bars.append(FrameBar(ends[0], ends[1], along, float(interface.stiffness[index])))


def as_frame(frame: Frame, interface: Interface, active: np.ndarray) -> PlainFrame:
    """Export a frame with the interface springs that act; lag screws are left out.

    `active` (k,) is true for each interface coordinate whose spring acts.
    """
    drawing = _Drawing(frame)
    drawing.bone()
    drawing.plate()
    drawing.screws()
    drawing.contact(interface, active)
    last = drawing.stations + 1
    count = len(frame.layout.chains)
    return PlainFrame(
        drawing.nodes,
        tuple(drawing.members),
        tuple(drawing.arms),
        tuple(drawing.springs),
        tuple(drawing.bars),
        "bone 0 0",
        f"bone {count - 1} {last}",
        tuple((f"bone {k} {last}", f"bone {k + 1} 0") for k in range(count - 1)),
    )
