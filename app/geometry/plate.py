"""Where the plate and its holes lie along the shaft, mm."""

from dataclasses import dataclass, replace
from functools import lru_cache

from app.case.models import Plate
from app.catalogue.models import PlateSeries
from app.geometry.fracture import FractureMap


@dataclass(frozen=True, slots=True)
class HolePlace:
    """One hole: its number from 1 (proximal), its ``s``, and what bone lies under it.

    ``line`` is the fracture line it is over, or None; ``fragment`` the index of the fragment under it, or None.
    ``across_mm`` is how far it lies beside the plate's middle line (``z``).
    """

    number: int
    s_mm: float
    line: int | None
    fragment: int | None
    across_mm: float = 0.0


@lru_cache(maxsize=256)
def hole_offsets(series: PlateSeries, holes: int) -> tuple[float, ...]:
    """Distances of the holes from the plate's centre, proximal first.

    With an even count the two holes beside the centre lie ``centre_spacing_mm`` apart; an odd count has one in the
    centre and no wider space.
    """
    half = holes // 2
    if holes % 2:
        return tuple((n - half) * series.pitch_mm for n in range(holes))
    inner = [series.centre_spacing_mm / 2 + n * series.pitch_mm for n in range(half)]
    return (*(-x for x in reversed(inner)), *inner)


def hole_sides(series: PlateSeries, holes: int) -> tuple[float, ...]:
    """How far the holes lie beside the plate's middle line (``z``, mm), proximal first: to either side in turn.

    The first one lies on the side that the face view has above, whichever limb it is (assumed). No staggered row of an
    even number of holes is its own mirror image end for end; half a turn of the plate on the bone maps it on itself,
    and puts an odd number on the other sides. Nothing is reckoned by the side, only by the distance.
    """
    return tuple(series.stagger_mm * (1 if number % 2 else -1) + 0.0 for number in range(holes))


def plate_length(series: PlateSeries, holes: int) -> float:
    """Length from end to end, mm."""
    return 2 * (hole_offsets(series, holes)[-1] + series.end_mm)


def place_holes(plate: Plate, series: PlateSeries, fracture: FractureMap, clearance_mm: float) -> tuple[HolePlace, ...]:
    """Lay the holes along the shaft.

    A hole is over the fracture when a perpendicular screw in it would meet a line, a zone or the wedge, or come closer
    than ``clearance_mm``. The distance is taken along the shaft: a line ends on the two surfaces, and its end is what a
    perpendicular screw comes nearest to.
    """
    laid = zip(hole_offsets(series, plate.holes), hole_sides(series, plate.holes), strict=True)
    return tuple(
        replace(_place(number, plate.centre_mm + offset, fracture, clearance_mm), across_mm=across)
        for number, (offset, across) in enumerate(laid, 1)
    )


def _place(number: int, s: float, fracture: FractureMap, clearance_mm: float) -> HolePlace:
    for line in fracture.lines:
        low, high = fracture.reach_mm(line)
        if low - clearance_mm < s < high + clearance_mm:
            return HolePlace(number, s, line.index, None)
    inside = sum(s > line.position_mm for line in fracture.lines)
    return HolePlace(number, s, None, inside)
