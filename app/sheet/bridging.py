"""The plate that bridges where the plan's compression turns out impossible, and the words for it.

Standing: common practice, no source: a bridge is long, and its plate a locking one or a stout compression plate.
"""

from dataclasses import dataclass

from app.catalogue import Catalogue
from app.catalogue.models import PlateSeries
from app.geometry import Layout
from app.geometry.limits import plate_range
from app.geometry.plate import plate_length

# thin tubular plates, which have oval holes, don't bear a bridged zone (common practice, no source)
CANNOT_BRIDGE = frozenset({"oval"})
LONGER_PLATES = 2  # how many longer ones are named


@dataclass(frozen=True, slots=True)
class BridgingPlate:
    """A plate in stock that may bridge: its series, and its number of holes."""

    series: PlateSeries
    holes: int


def longer_plates(layout: Layout) -> tuple[tuple[int, float], ...]:
    """The next longer plates made that the bone has room for, by number of holes, with their lengths (mm)."""
    return _longer_of(layout, layout.series)[:LONGER_PLATES]


def bridging_plate(layout: Layout, catalogue: Catalogue) -> BridgingPlate | None:
    """The plate to bridge with: the next longer of its kind, else one of another kind usual on the bone, else itself.

    Of other kinds a locking one comes first. Where none is longer, a plate that can't bridge itself gives way to the
    longest of them. None where neither it nor the stock has one that bridges.
    """
    own, can = layout.series, layout.series.hole_kind not in CANNOT_BRIDGE
    others = _others(layout, catalogue)
    for series in (own, *others) if can else others:
        longer = _longer_of(layout, series)
        if longer:
            return BridgingPlate(series, longer[0][0])
    if can:
        return BridgingPlate(own, layout.construct.plate.holes)
    fit = [BridgingPlate(series, max(counts)) for series in others if (counts := _fitting(layout, series))]
    return next(iter(fit), None)


def other_plate(layout: Layout, catalogue: Catalogue) -> str:
    """The bridging plate in words, where it is of another kind than the plan's; else empty."""
    found = bridging_plate(layout, catalogue)
    if found is None or found.series.key == layout.series.key:
        return ""
    length = f"{plate_length(found.series, found.holes):.0f} mm"
    return f"{found.series.label}, {found.holes} holes, {length}, with {_screws(found, catalogue)}"


def bridge_words(layout: Layout, catalogue: Catalogue) -> str:
    """What to do where the faces can't be compressed."""
    said = (
        "More pieces than planned, or faces that don’t fit: don’t force them. Set length, rotation and axis, and bridge"
    )
    found = bridging_plate(layout, catalogue)
    if found is None:
        return (
            f"{said} with a locking or compression plate, not with this one: none in stock that is usual on this bone."
        )
    screws = "neutral screws" if found.series.locking_screw is None else _screws(found, catalogue)
    return f"{said} {_with(layout, found)}: {screws} well apart in the main fragments, no screw over the zone."


def _screws(found: BridgingPlate, catalogue: Catalogue) -> str:
    return f"{catalogue.screws[found.series.locking_screw or found.series.cortex_screw].label}s"


def _with(layout: Layout, found: BridgingPlate) -> str:
    length = f"{plate_length(found.series, found.holes):.0f} mm"
    if found.series.key != layout.series.key:
        return f"with another plate ({found.series.label}, {found.holes} holes, {length})"
    return (
        "with the longer plate"
        if found.holes > layout.construct.plate.holes
        else "with this plate, the longest that fits"
    )


def _others(layout: Layout, catalogue: Catalogue) -> list[PlateSeries]:
    keys = layout.bone.usual_series
    found = [catalogue.series[key] for key in keys if key in catalogue.series and key != layout.series.key]
    able = [series for series in found if series.hole_kind not in CANNOT_BRIDGE]
    return sorted(able, key=lambda series: series.locking_screw is None)


def _longer_of(layout: Layout, series: PlateSeries) -> tuple[tuple[int, float], ...]:
    lengths = ((count, plate_length(series, count)) for count in _fitting(layout, series))
    return tuple((count, length) for count, length in lengths if length > layout.plate_length_mm + 1e-6)


def _fitting(layout: Layout, series: PlateSeries) -> list[int]:
    """Numbers of holes of the plates made that the bone has room for, the shortest first."""
    ranges = ((count, plate_range(series, count, layout.shape.length_mm)) for count in sorted(series.holes_made))
    return [count for count, (low, high) in ranges if low <= high]
