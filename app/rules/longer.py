"""A longer plate of the same series, laid so that every screw stays where it is."""

from collections import Counter
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from app.case.edits import SetOrder, SetPlate, SingleEdit
from app.geometry import hole_offsets, plate_length
from app.geometry.plate import place_holes
from app.rules.edits import remedy, role_edit
from app.rules.registry import Remedy, RuleInput


@dataclass(frozen=True, slots=True)
class Growth:
    """Holes added at either end, and where the longer plate's centre then lies, mm."""

    proximal: int
    distal: int
    centre_mm: float


def on_shaft(judged: RuleInput, start_mm: float, end_mm: float) -> bool:
    """Whether a plate between these ends stays on the part of the bone that shaft plates are for."""
    low, high = judged.layout.bone.shaft
    length = judged.layout.shape.length_mm
    return low * length <= start_mm and end_mm <= high * length


def _grown(judged: RuleInput, proximal: int, distal: int) -> Growth | None:
    """The plate with holes added, if it is made, its holes keep their places, and it stays on the shaft."""
    series, plate = judged.layout.series, judged.construct.plate
    count = plate.holes + proximal + distal
    even = series.centre_spacing_mm == series.pitch_mm
    if count not in series.holes_made or not (even or proximal == distal):
        return None
    shift = (distal - proximal) / 2 * series.pitch_mm
    centre = plate.centre_mm + shift
    half = plate_length(series, count) / 2
    moved = hole_offsets(series, count)[proximal] + shift - hole_offsets(series, plate.holes)[0]
    fits = on_shaft(judged, centre - half, centre + half) and abs(moved) < 1e-9
    return Growth(proximal, distal, centre) if fits else None


def longer_plate(judged: RuleInput, lacking: int) -> Remedy | None:
    """The shortest plate made with at least so many holes more, as even at both ends as may be; None if none fits."""
    return _shortest(judged, lambda growth: growth.proximal + growth.distal >= lacking)


def plate_over(judged: RuleInput, least: Mapping[int, int]) -> Remedy | None:
    """The shortest plate made with at least so many holes over these main fragments; None if none fits on the shaft."""
    # holes that count by the screw in them, which comes along
    by_screw = Counter(hole.fragment for hole in judged.layout.holes)
    by_screw.subtract(_holes_over(judged, Growth(0, 0, judged.construct.plate.centre_mm)))

    def enough(growth: Growth) -> bool:
        over = _holes_over(judged, growth)
        return all(over[fragment] + by_screw[fragment] >= count for fragment, count in least.items())

    return _shortest(judged, enough)


def _holes_over(judged: RuleInput, growth: Growth) -> Counter[int | None]:
    layout = judged.layout
    count = layout.construct.plate.holes + growth.proximal + growth.distal
    plate = layout.construct.plate.model_copy(update={"holes": count, "centre_mm": growth.centre_mm})
    places = place_holes(plate, layout.series, layout.fracture, layout.clearance_mm)
    return Counter(place.fragment for place in places)


def _shortest(judged: RuleInput, enough: Callable[[Growth], bool]) -> Remedy | None:
    if judged.trial:
        return None
    spare = max(judged.layout.series.holes_made) - judged.construct.plate.holes
    sizes = [(a, b) for a in range(spare + 1) for b in range(spare + 1 - a) if a + b]
    low, high = judged.layout.fracture.extent_mm

    def rank(size: tuple[int, int]) -> tuple[int, int, float]:
        """Few holes, as even at both ends as may be, then the plate's middle near the fracture's: the same mirrored."""
        centre = judged.construct.plate.centre_mm + (size[1] - size[0]) / 2 * judged.layout.series.pitch_mm
        return sum(size), abs(size[0] - size[1]), round(abs(centre - (low + high) / 2), 6)

    for a, b in sorted(sizes, key=rank):
        growth = _grown(judged, a, b)
        if growth is not None and enough(growth):
            return _remedy(judged, growth)
    return None


def _remedy(judged: RuleInput, growth: Growth) -> Remedy:
    construct, shift = judged.construct, growth.proximal
    count = construct.plate.holes + growth.proximal + growth.distal
    edits: list[SingleEdit] = [
        SetPlate(target=judged.target, series=construct.plate.series, holes=count, centre_mm=round(growth.centre_mm, 6))
    ]
    kept = {number + shift: hole for number, hole in enumerate(construct.holes, 1)}
    for number in range(1, count + 1):
        hole = kept.get(number)
        edits.append(role_edit(judged, number, hole.role if hole else "empty", hole.tilt_deg if hole else 0.0))
    if construct.order is not None:
        order = [f"h{int(name[1:]) + shift}" if name[0] == "h" else name for name in construct.order]
        edits.append(SetOrder(target=judged.target, order=tuple(order)))
    return remedy(f"Take the {count}-hole plate, with the screws where they are", edits)
