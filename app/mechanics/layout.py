"""Which plate holes belong to which fragment's chain of nodes, and which lie astride a fracture line."""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import dataclass

from app.mechanics.model import Construct, FractureLine, Screw

_FACE_CLEARANCE_MM = 0.5
_ON_LINE_MM = 1e-6


class CrossedLinesError(ValueError):
    """A screw, or the holes beside it, would belong to two fracture lines at once."""


@dataclass(frozen=True, slots=True)
class Chain:
    """The nodes of one fragment.

    Attributes:
        start_mm: position of its proximal bone end (mm).
        end_mm: position of its distal bone end (mm).
        holes: indices of its plate holes, from 0.
        bone_mm: position of the bone node opposite each of those holes (mm).
    """

    start_mm: float
    end_mm: float
    holes: tuple[int, ...]
    bone_mm: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class LineNodes:
    """Plate nodes at a fracture line.

    `holes` are the indices of the holes astride the line (empty: one plain node), `plate_mm` the positions of the nodes
    (mm).
    """

    holes: tuple[int, ...]
    plate_mm: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Layout:
    """The chains of all fragments from proximal to distal, and the line between each two of them."""

    chains: tuple[Chain, ...]
    lines: tuple[LineNodes, ...]


def held_fragments(screw: Screw) -> tuple[int, ...]:
    """Main fragments that this screw ties the plate to, each once; at most one for a unicortical or clamped screw."""
    near, far, kind = screw.near_fragment, screw.far_fragment, screw.kind
    if kind in ("clamped", "lag"):
        near, far = (far if near is None else near), None
    elif kind == "locking-1":
        far = None
    if near is None:
        return () if far is None else (far,)
    return (near,) if far is None or far == near else (near, far)


def lay_out(construct: Construct) -> Layout:
    """Share the plate holes among the fragments' chains and the fracture lines; the same seen from either end.

    A hole belongs to a fracture line, together with every hole between it and the line, if its screw holds bone beyond
    the line, or if it lies so near the face of the fragment that it holds, or beyond it, that no bone node could stand
    opposite: its joint is then carried by that face, on a rigid arm of its true length. So does a hole right over the
    line. The others belong to the fragment over which they lie.

    Raises:
        CrossedLinesError: a screw holds bone beyond two fracture lines.
    """
    holes = construct.plate.hole_s_mm
    at = [line.s_mm for line in construct.fracture_lines]
    owner = [bisect_left(at, s) for s in holes]
    reaching = [*_reaching(construct, owner), *_right_over(holes, at)]
    at_line = [_straddling(reaching, owner, k) for k in range(len(at))]
    taken = {hole for group in at_line for hole in group}
    if sum(map(len, at_line)) != len(taken):
        raise CrossedLinesError("one screw holds bone beyond two fracture lines")
    chains = tuple(
        _chain(construct, fragment, tuple(h for h in range(len(holes)) if owner[h] == fragment and h not in taken))
        for fragment in range(construct.fragment_count)
    )
    lines = tuple(
        _line_nodes(construct, group, line) for group, line in zip(at_line, construct.fracture_lines, strict=True)
    )
    return Layout(chains, lines)


def shaping_holes(construct: Construct) -> frozenset[int]:
    """Indices of the holes whose screw, by being there, puts holes to a fracture line that else lie on a fragment."""
    at = [line.s_mm for line in construct.fracture_lines]
    owner = [bisect_left(at, s) for s in construct.plate.hole_s_mm]
    return frozenset(hole for hole, _, _ in _reaching(construct, owner))


def _reaching(construct: Construct, owner: list[int]) -> list[tuple[int, int, int]]:
    """Holes at a line by what their screw holds: hole, first and last fragment concerned."""
    found = []
    for screw in construct.screws:
        hole, held = screw.hole_number - 1, held_fragments(screw)
        reach = {owner[hole], *held, *(beyond for f in held for beyond in _beyond(construct, hole, f))}
        if len(reach) > 1:
            found.append((hole, min(reach), max(reach)))
    return found


def _beyond(construct: Construct, hole: int, fragment: int) -> list[int]:
    """The fragment next to the one held, where the hole lies at the face between the two or past it."""
    s = construct.plate.hole_s_mm[hole]
    start, end = _bounds(construct, fragment)
    margin = min(_FACE_CLEARANCE_MM, (end - start) / 10.0)
    past = [fragment + 1] if fragment < len(construct.fracture_lines) and s >= end - margin else []
    return [*past, fragment - 1] if fragment > 0 and s <= start + margin else past


def _right_over(holes: tuple[float, ...], at: list[float]) -> list[tuple[int, int, int]]:
    """Holes right over a line, which lie over neither fragment."""
    return [(h, k, k + 1) for k, line in enumerate(at) for h, s in enumerate(holes) if abs(s - line) <= _ON_LINE_MM]


def _bounds(construct: Construct, fragment: int) -> tuple[float, float]:
    """Positions of a fragment's two bone ends (mm)."""
    lines = construct.fracture_lines
    start = construct.bone.s_mm[0] if fragment == 0 else lines[fragment - 1].s_mm + lines[fragment - 1].zone_mm / 2.0
    end = construct.bone.s_mm[-1] if fragment == len(lines) else lines[fragment].s_mm - lines[fragment].zone_mm / 2.0
    return start, end


def _straddling(reaching: list[tuple[int, int, int]], owner: list[int], line: int) -> tuple[int, ...]:
    crossing = [hole for hole, first, last in reaching if first <= line < last]
    if not crossing:
        return ()
    boundary = sum(fragment <= line for fragment in owner)
    return tuple(range(min(*crossing, boundary), max(*crossing, boundary - 1) + 1))


def _line_nodes(construct: Construct, group: tuple[int, ...], line: FractureLine) -> LineNodes:
    holes = construct.plate.hole_s_mm
    if group:
        return LineNodes(group, tuple(holes[h] for h in group))
    before = [s for s in holes if s <= line.s_mm]
    after = [s for s in holes if s > line.s_mm]
    if not before or not after:
        return LineNodes((), (line.s_mm,))
    return LineNodes((), ((before[-1] + after[0]) / 2.0,))


def _chain(construct: Construct, fragment: int, holes: tuple[int, ...]) -> Chain:
    start, end = _bounds(construct, fragment)
    margin = min(_FACE_CLEARANCE_MM, (end - start) / 10.0)
    at = [construct.plate.hole_s_mm[h] for h in holes]
    early = [s for s in at if s <= start + margin]
    late = [s for s in at if s >= end - margin]
    inside = [s for s in at if start + margin < s < end - margin]
    first, last = (inside[0], inside[-1]) if inside else ((start + end) / 2.0, (start + end) / 2.0)
    bone = [*_spread(start, first, len(early)), *inside, *_spread(last, end, len(late))]
    return Chain(start, end, holes, tuple(bone))


def _spread(low: float, high: float, count: int) -> list[float]:
    """Evenly spaced bone nodes for holes over no bone of this fragment; they carry nothing, so any place will do."""
    return [low + (high - low) * (k + 1) / (count + 1) for k in range(count)]
