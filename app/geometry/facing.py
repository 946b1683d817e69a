"""How a bone lies under a plate on one of its surfaces: depth or width, its bows, and what edges in sight are called.

Worked out from directions of the body as vectors, right-handed: x to its right, y forwards, z up. Of a right bone
lateral is to the right, of a left one to the left.
"""

from dataclasses import dataclass
from functools import lru_cache

from app.case.models import BodySide, Surface
from app.catalogue.models import Arc, Axis, BoneSpec, Bow, Direction

Vector = tuple[float, float, float]

LEAST = 1e-9
AXES: dict[Axis, Direction] = {"anteroposterior": "anterior", "mediolateral": "lateral", "superoinferior": "superior"}
PLAIN: dict[str, Vector] = {
    "lateral": (1.0, 0.0, 0.0),
    "medial": (-1.0, 0.0, 0.0),
    "anterior": (0.0, 1.0, 0.0),
    "posterior": (0.0, -1.0, 0.0),
    "superior": (0.0, 0.0, 1.0),
    "inferior": (0.0, 0.0, -1.0),
}
# What lies half-way between two: the first part of its name, and that of which it is short.
BETWEEN = (("antero", "anterior"), ("postero", "posterior"), ("supero", "superior"), ("infero", "inferior"))


@dataclass(frozen=True, slots=True)
class Facing:
    """A bone as a plate on ``surface`` meets it.

    The face view looks straight at the surface with the shaft's proximal end to the left.

    Attributes:
        surface: where the plate lies.
        far: the surface opposite.
        top: the edge at the top of the face view; of a right bone where the side is not ``said``.
        bottom: the edge at its bottom.
        said: whether the side of the body is known.
        swapped: whether the plate's plane holds the width of the bone's profile instead of its depth.
        under: the arcs in the plate's plane; with a positive radius the surface is hollow under the plate.
        across: the arcs across its width; with a positive radius the shaft's ends turn to the top edge.
    """

    surface: Surface
    far: str
    top: str
    bottom: str
    said: bool
    swapped: bool
    under: tuple[Arc, ...]
    across: tuple[Arc, ...]


def facing(spec: BoneSpec, surface: Surface, side: BodySide | None) -> Facing:
    """How this bone, of this side of the body, lies under a plate on one of its surfaces."""
    return _facing(spec.distally, spec.depth_axis, spec.bows, surface, side)


@lru_cache(maxsize=256)
def _facing(
    distally: Direction, depth_axis: Axis, bows: tuple[Bow, ...], surface: Surface, side: BodySide | None
) -> Facing:
    taken: BodySide = side or "right"
    outwards, along = vector(surface, taken), vector(distally, taken)
    top = _cross(outwards, along)
    depth = vector(AXES[depth_axis], taken)
    width = _cross(along, depth)
    return Facing(
        surface=surface,
        far=name_of(_scaled(outwards, -1), taken),
        top=name_of(top, taken),
        bottom=name_of(_scaled(top, -1), taken),
        said=side is not None,
        swapped=abs(_dot(outwards, width)) > abs(_dot(outwards, depth)) + LEAST,
        under=_seen(bows, outwards, taken),
        across=_seen(bows, top, taken),
    )


def _seen(bows: tuple[Bow, ...], towards: Vector, side: BodySide) -> tuple[Arc, ...]:
    """The arcs in one plane; with a positive radius the ends of each turn ``towards``, its top the other way."""
    found = []
    for bow in bows:
        share = -_dot(vector(bow.apex, side), towards)
        if abs(share) > LEAST:
            found += [Arc(arc.start, arc.end, arc.radius_mm / share) for arc in bow.arcs]
    return tuple(found)


def _directions() -> dict[str, Vector]:
    """All directions with a name, of a right bone."""
    found = dict(PLAIN)
    for place, (prefix, one) in enumerate(BETWEEN):
        after = ("lateral", "medial") if place > 1 else ("lateral", "medial", "superior", "inferior")
        for other in after:
            found[prefix + other] = _scaled(_sum(PLAIN[one], PLAIN[other]), 0.5**0.5)
    return found


def vector(name: str, side: BodySide) -> Vector:
    """The direction of this name as a vector of length 1; ``anterolateral`` and the like lie half-way between two.

    Raises:
        KeyError: no such direction.
    """
    return _of_side(DIRECTIONS[name], side)


def name_of(at: Vector, side: BodySide) -> str:
    """What a direction is called: the nearest of those that have a name."""
    of_right = _of_side(at, side)
    return max(DIRECTIONS, key=lambda name: _dot(of_right, DIRECTIONS[name]))


def _of_side(at: Vector, side: BodySide) -> Vector:
    """A direction of a right bone as it is in one of this side, and the other way round: the two are mirrored."""
    return at if side == "right" else (-at[0], at[1], at[2])


def _dot(one: Vector, other: Vector) -> float:
    return sum(a * b for a, b in zip(one, other, strict=True))


def _cross(one: Vector, other: Vector) -> Vector:
    (a, b, c), (d, e, f) = one, other
    return b * f - c * e, c * d - a * f, a * e - b * d


def _sum(one: Vector, other: Vector) -> Vector:
    return one[0] + other[0], one[1] + other[1], one[2] + other[2]


def _scaled(at: Vector, share: float) -> Vector:
    return at[0] * share, at[1] * share, at[2] * share


DIRECTIONS = _directions()
