"""Which empty holes to fill for more hold, and a longer plate where those at hand are too few or too many together."""

import math
from collections.abc import Mapping

from app.case.edits import SingleEdit, Together
from app.case.models import Role
from app.rules.after import after
from app.rules.edits import fill, remedy, role_edit
from app.rules.facts import filled_up, is_simple, usual_role
from app.rules.longer import longer_plate
from app.rules.registry import Remedy, RuleInput
from app.rules.trial import holds_fragment


def best_empty_holes(judged: RuleInput, fragment: int, count: int, role: Role) -> list[int]:
    """Empty holes over a fragment to fill: each the farthest from the screws there, the outermost first; or none.

    A bridge keeps its span: what lies outside its innermost screw goes first, and the holes over a simple fracture
    that are to stay free are left out.
    """
    places = {hole.number: hole.s_mm for hole in judged.layout.holes if hole.fragment == fragment}
    used = [s for number, s in places.items() if judged.construct.holes[number - 1].role != "empty"]
    kept = _kept_free(judged, fragment)
    free = [
        n
        for n in places
        if judged.construct.holes[n - 1].role == "empty" and n not in kept and holds_fragment(judged, n, role)
    ]
    if len(free) < count:
        return []
    middle = judged.construct.plate.centre_mm
    reach = [abs(s - middle) for s in used] if judged.construct.principle == "bridging" else []
    chosen: list[int] = []
    for _ in range(count):
        best = max(
            free,
            key=lambda n: (
                abs(places[n] - middle) > min(reach, default=math.inf),
                _room(places[n], used),
                abs(places[n] - middle),
            ),
        )
        free.remove(best)
        used.append(places[best])
        chosen.append(best)
    return sorted(chosen)


def _room(s_mm: float, used: list[float]) -> float:
    return round(min((abs(s_mm - other) for other in used), default=math.inf), 6)


def _kept_free(judged: RuleInput, fragment: int) -> frozenset[int]:
    """This side's share of the holes that a bridged simple fracture wants free over it: those next to its line."""
    if judged.construct.principle != "bridging" or not is_simple(judged):
        return frozenset()
    least = judged.thresholds.value("bridging-span", "simple_free_holes_min")
    line = judged.layout.fracture.lines[0].position_mm
    side = [hole for hole in judged.layout.holes if (hole.s_mm > line) == (fragment > 0)]
    return frozenset(
        hole.number for hole in sorted(side, key=lambda hole: abs(hole.s_mm - line))[: math.ceil(least / 2)]
    )


def picked(judged: RuleInput, wanted: Mapping[int, int], role: Role) -> list[int]:
    """Empty holes for so many screws more by fragment; none where one of them lacks the room."""
    found = {fragment: best_empty_holes(judged, fragment, count, role) for fragment, count in wanted.items()}
    if any(len(numbers) < wanted[fragment] for fragment, numbers in found.items()):
        return []
    return sorted(number for numbers in found.values() for number in numbers)


def longer_filled(judged: RuleInput, wanted: Mapping[int, int], role: Role) -> Remedy | None:
    """The shortest longer plate that takes so many screws more by fragment, as few as a bridge may have; or none."""
    made = max(judged.layout.series.holes_made) - judged.construct.plate.holes
    for lacking in range(1, made + 1):
        way = longer_plate(judged, lacking)
        then = None if way is None else after(judged, way.edit)
        if way is None or then is None:
            return None
        numbers = [] if filled_up(then, sum(wanted.values())) else picked(then, wanted, role)
        if numbers:
            return _and_filled(way, then, numbers, role)
    return None


def with_every_hole_filled(judged: RuleInput, way: Remedy | None) -> Remedy | None:
    """A longer plate with a screw in every hole that takes one: what poor bone wants where none locks."""
    then = None if way is None else after(judged, way.edit)
    if way is None or then is None or judged.case.bone_quality != "poor":
        return None
    role = usual_role(judged)
    empty = [number for number, hole in enumerate(then.construct.holes, 1) if hole.role == "empty"]
    numbers = [number for number in empty if holds_fragment(then, number, role)]
    return _and_filled(way, then, numbers, role) if numbers else None


def _and_filled(way: Remedy, then: RuleInput, numbers: list[int], role: Role) -> Remedy:
    """A longer plate, and what it then holds more."""
    edits: list[SingleEdit] = [*(way.edit.edits if isinstance(way.edit, Together) else (way.edit,))]
    edits += [role_edit(then, number, role, 0.0) for number in numbers]
    put = fill(then, numbers, role).label
    return remedy(f"Take the {then.construct.plate.holes}-hole plate and {put[0].lower()}{put[1:]}", edits)
