"""A fracture that winds once round the shaft, and the straight crack that joins its ends; mm and radians.

Round the elliptical section a place is told by its angle θ: ``y = d/2·cos θ`` and ``z = w/2·sin θ``, so that the
plate lies at 0. A helix winds by ``s = s0 + c·ψ``, with ψ the angle from its middle, -π to π. Twisting breaks a shaft
so: along a helix that opens under tension, and along the shaft between its two ends (common practice, no source).

Rules, order and mechanics work with planes. The plane nearest to a helix, by the sum of squares over all angles, is
``s = s0 + 2·c·sin ψ``: the sine term of its Fourier series. So a plane with the half run C stands for a helix that
rises by C/2 for each radian, and that runs π/2 times as far along the shaft.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from app.geometry.fracture import Line

AT_SEAM = 1e-9  # radians
Place = tuple[float, float]  # θ, s


@dataclass(frozen=True, slots=True)
class Helix:
    """The course of one spiral line.

    Attributes:
        position_mm: ``s`` of its middle.
        rise_mm: along the shaft for each radian; positive winds like a right-handed screw.
        middle: θ at which it passes its middle; its ends lie opposite, on the seam.
        half_depth_mm: d/2.
        half_breadth_mm: w/2.
        width_mm: distance between its two faces along the shaft.
    """

    position_mm: float
    rise_mm: float
    middle: float
    half_depth_mm: float
    half_breadth_mm: float
    width_mm: float

    @classmethod
    def of(cls, line: Line) -> Helix | None:
        """The helix to which the line's plane is the nearest; None if the line does not wind."""
        if line.spiral is None:
            return None
        hand = 1 if line.spiral == "right" else -1
        phase = math.atan2(line.across * line.breadth_mm, line.slope * line.depth_mm)
        return cls(
            position_mm=line.position_mm,
            rise_mm=hand * line.plane_run_mm / 4,
            middle=hand * math.pi / 2 - phase,
            half_depth_mm=line.depth_mm / 2,
            half_breadth_mm=line.breadth_mm / 2,
            width_mm=line.width_mm,
        )

    def course(self, start: float, sweep: float, steps: int) -> list[Place]:
        """Its places from the angle ``start`` over ``sweep``, the crack along the seam included where that is met.

        Where the course begins or ends on the seam, it follows that from its middle or to its middle, so that two
        courses which share such an end together follow the whole of it.
        """
        way = math.copysign(1.0, sweep)
        at = way * _wrapped(way * (start - self.middle))  # from the middle; -π on the seam, and from there on
        end, seam = at + sweep, way * math.pi
        turns = {at + sweep * k / steps for k in range(steps + 1)}
        if (seam - at) * way > AT_SEAM and (end - seam) * way > AT_SEAM:
            turns |= {seam}
        found: list[Place] = []
        for turn in sorted(turns, key=lambda one: one * way):
            angle = start + turn - at
            if (turn - seam) * way > AT_SEAM:
                found.append((angle, self._at(turn - 2 * seam)))
                continue
            found.append((angle, self._at(turn)))
            if turn == seam and turn != end:
                found.append((angle, self._at(-seam)))
        middle = self.position_mm
        before = [(start, middle)] if abs(at + seam) < AT_SEAM else []
        behind = [(start + sweep, middle)] if abs(end - seam) < AT_SEAM else []
        return [*before, *found, *behind]

    def clear_mm(self, s: float, angle: float) -> float:
        """Least distance on the unrolled surface from a place to the line or its seam, mm; 0 between the two faces.

        Unrolled about that place: an angle counts by the length that it has there.
        """
        radius = math.hypot(self.half_depth_mm * math.sin(angle), self.half_breadth_mm * math.cos(angle))
        turn, shift, half = _wrapped(angle - self.middle), s - self.position_mm, self.width_mm / 2
        slope = math.atan2(self.rise_mm, radius)
        beside = (math.pi - abs(turn)) * radius
        least = math.hypot(beside, max(0.0, abs(shift) - abs(self.rise_mm) * math.pi - half))
        for here in (turn - 2 * math.pi, turn, turn + 2 * math.pi):
            off = shift - self.rise_mm * here
            if abs(off) <= half and abs(here) <= math.pi:
                return 0.0
            face = shift - math.copysign(half, off)
            foot = (here * radius * math.cos(slope) + face * math.sin(slope)) * math.cos(slope) / radius
            foot = min(math.pi, max(-math.pi, foot))
            least = min(least, math.hypot((here - foot) * radius, face - self.rise_mm * foot))
        return least

    def _at(self, turn: float) -> float:
        return self.position_mm + self.rise_mm * turn


def _wrapped(angle: float) -> float:
    """The same angle, -π to below π."""
    turn = (angle + math.pi) % (2 * math.pi)
    return (0.0 if 2 * math.pi - turn < AT_SEAM else turn) - math.pi
