"""Suggested layouts: plate length, position and roles that a rule-abiding surgeon might start from.

A suggestion is searched, not looked up: shorter plates are tried before longer ones, each is laid out by the recipe of
its principle and judged by all the rules, and the first that raises no stop and no caution is offered. What the user
has drawn (bone, fracture, quality) stays as it is.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from app.assess import Assessment, Knowledge, assess
from app.case.edits import ReplaceConstruct, Together
from app.case.faults import InvalidCase
from app.case.models import Case, Construct, Hole, Plate, Principle
from app.catalogue.models import BoneSpec, PlateSeries
from app.geometry import Layout, hole_offsets, lay_out, summarise
from app.rules import RuleInput
from app.rules.trial import best_lag_tilt, lag_beside_plate
from app.suggest.patterns import fitting_principles, is_oblique

HOLES_BETWEEN = 2  # with one screw a piece between two lines turns about it
MAX_TRIES = 120


@dataclass(frozen=True, slots=True)
class Suggestion:
    """An offered layout: what the button says, how clean it is, and the edit that takes it."""

    label: str
    principle: Principle
    stops: int
    cautions: int
    edit: ReplaceConstruct

    @property
    def taken(self) -> Together:
        """The edit as the button makes it, under a name for the history."""
        return Together(label=f"Layout, {self.label}", edits=(self.edit,))


def suggest(case: Case, target: int, principle: Principle, knowledge: Knowledge) -> Suggestion | None:
    """The shortest layout for this fracture and principle that raises the fewest stops and cautions.

    Returns:
        None only if no plate in stock fits on the bone.
    """
    best: tuple[tuple[int, int], Construct] | None = None
    for tried, construct in enumerate(_candidates(case, target, principle, knowledge)):
        if tried >= MAX_TRIES:
            break
        marks = _marks(case, construct, knowledge)
        if marks is not None and (best is None or marks < best[0]):
            best = marks, construct
        if marks == (0, 0):
            break
    if best is None:
        return None
    (stops, cautions), construct = best
    label = f"{principle.capitalize()}: {construct.plate.holes} holes, {len(construct.screw_ids)} screws"
    return Suggestion(label, principle, stops, cautions, ReplaceConstruct(target=target, value=construct))


def _marks(case: Case, construct: Construct, knowledge: Knowledge) -> tuple[int, int] | None:
    """Stops and cautions of a construct by itself: what else the case holds doesn't change them, and takes its time."""
    try:
        judged: Assessment = assess(case.model_copy(update={"constructs": (construct,)}), knowledge, mechanics=False)
    except InvalidCase:
        return None
    levels = [warning.level for warning in judged.constructs[0].warnings]
    return levels.count("stop"), levels.count("caution")


def _candidates(case: Case, target: int, principle: Principle, knowledge: Knowledge) -> Iterator[Construct]:
    construct = case.constructs[target]
    spec = knowledge.catalogue.bones[construct.bone.name]
    stock = [knowledge.catalogue.series[key] for key in spec.usual_series if key in knowledge.catalogue.series]
    if principle == "bridging":
        stock = [series for series in stock if series.locking_screw] or stock
    elif principle == "compression":
        stock = [series for series in stock if series.travel_mm > 0] or stock
    for series in stock:
        for holes in series.holes_made:
            for centre in _centres(construct, series, holes):
                yield from _laid(case, construct, spec, series, _Seat(holes, centre, principle), knowledge)


@dataclass(frozen=True, slots=True)
class _Seat:
    holes: int
    centre_mm: float
    principle: Principle


def _centres(construct: Construct, series: PlateSeries, holes: int) -> tuple[float, ...]:
    """Plate positions worth trying: a hole over the fracture, or the fracture between two holes."""
    lines = construct.fracture.lines
    middle = (lines[0].position_mm + lines[-1].position_mm) / 2
    offsets = hole_offsets(series, holes)
    central = offsets[(holes - 1) // 2]
    between = (offsets[(holes - 1) // 2] + offsets[holes // 2]) / 2 if holes % 2 == 0 else offsets[holes // 2 - 1] / 2
    return tuple(dict.fromkeys(round(middle - shift, 1) for shift in (central, between, 0.0)))


def _laid(
    case: Case, construct: Construct, spec: BoneSpec, series: PlateSeries, seat: _Seat, knowledge: Knowledge
) -> Iterator[Construct]:
    plate = Plate(series=series.key, holes=seat.holes, centre_mm=seat.centre_mm)
    bare = Construct(
        bone=construct.bone,
        fracture=construct.fracture,
        principle=seat.principle,
        plate=plate,
        holes=(Hole(),) * seat.holes,
        acknowledged=construct.acknowledged,
    )
    bench = _Bench(case, knowledge)
    layout = bench.lay(bare)
    minimum = spec.minima[seat.principle]
    if min(len(side) for side in _main_holes(layout)) < minimum.holes:
        return
    inner = range(1, len(layout.fracture.lines))
    if any(len(_holes_over(layout, fragment)) < HOLES_BETWEEN for fragment in inner):
        return
    fill = case.bone_quality == "poor" and seat.principle != "bridging"
    for extra in range(2):
        want = _Want(max(minimum.screws, math.ceil(minimum.cortices / 2)) + extra, fill)
        yield from _RECIPES[seat.principle](bench, layout, want)


@dataclass(frozen=True, slots=True)
class _Bench:
    """Where trial layouts are laid out."""

    case: Case
    knowledge: Knowledge

    def lay(self, construct: Construct) -> Layout:
        knowledge = self.knowledge
        return lay_out(construct, self.case.bone_quality, knowledge.catalogue, knowledge.allowances)

    def judge(self, layout: Layout) -> RuleInput:
        """The layout as rules see it."""
        knowledge = self.knowledge
        return RuleInput(self.case, 0, layout, summarise(layout), knowledge.catalogue, knowledge.thresholds)


@dataclass(frozen=True, slots=True)
class _Want:
    per_fragment: int
    fill: bool


def _main_holes(layout: Layout) -> tuple[list[int], list[int]]:
    """Numbers of the holes over the proximal and over the distal fragment."""
    return _holes_over(layout, 0), _holes_over(layout, len(layout.fracture.lines))


def _holes_over(layout: Layout, fragment: int) -> list[int]:
    return [hole.number for hole in layout.holes if hole.fragment == fragment]


def _spread(numbers: list[int], inner_first: bool, want: _Want) -> list[int]:
    """Which holes of one main fragment to fill: innermost, outermost, then evenly between."""
    ordered = numbers if inner_first else numbers[::-1]
    if want.fill or len(ordered) <= want.per_fragment:
        return ordered
    last = len(ordered) - 1
    steps = max(1, want.per_fragment - 1)
    return [ordered[round(i * last / steps)] for i in range(want.per_fragment)]


def _sides(layout: Layout, want: _Want) -> tuple[list[int], list[int]]:
    """Holes to fill proximally and distally, each from the fracture outwards."""
    proximal, distal = _main_holes(layout)
    return _spread(proximal, False, want), _spread(distal, True, want)


def _between(layout: Layout, want: _Want) -> list[int]:
    """Holes to fill in intermediate fragments: the outermost ones that each has."""
    found: list[int] = []
    for fragment in range(1, len(layout.fracture.lines)):
        holes = _holes_over(layout, fragment)
        found += holes if want.fill else sorted({holes[0], holes[-1]})
    return found


def _with(layout: Layout, roles: dict[int, Hole], **change: Any) -> Construct:
    holes = tuple(roles.get(n, Hole()) for n in range(1, len(layout.holes) + 1))
    return layout.construct.model_copy(update={"holes": holes, **change})


def _bridge(bench: _Bench, layout: Layout, want: _Want) -> Iterator[Construct]:  # noqa: ARG001 - one signature
    kind: Any = "locking-2" if layout.series.locking_screw else "neutral"
    proximal, distal = _sides(layout, want)
    numbers = {*proximal, *distal, *_between(layout, want)}
    yield _with(layout, dict.fromkeys(numbers, Hole(role=kind)))


def _compress(bench: _Bench, layout: Layout, want: _Want) -> Iterator[Construct]:
    proximal, distal = _sides(layout, want)
    obtuse_distal = layout.fracture.fragments[-1].obtuse_at_plate
    roles = dict.fromkeys((*proximal, *distal), Hole(role="neutral"))
    roles[proximal[0] if obtuse_distal else distal[0]] = Hole(role="eccentric")
    if is_oblique(layout.construct.fracture, bench.knowledge):
        yield from _with_lag(bench, layout, roles)
        return
    bend = bench.knowledge.thresholds
    middle = (bend.value("prebend", "min_mm") + bend.value("prebend", "max_mm")) / 2
    yield _with(layout, roles, plate=layout.construct.plate.model_copy(update={"prebend_mm": middle}))


def _protect(bench: _Bench, layout: Layout, want: _Want) -> Iterator[Construct]:
    proximal, distal = _sides(layout, want)
    yield from _with_lag(bench, layout, dict.fromkeys((*proximal, *distal), Hole(role="neutral")))


def _with_lag(bench: _Bench, layout: Layout, roles: dict[int, Hole]) -> Iterator[Construct]:
    """The construct with a lag screw that presses well: through the plate where a hole reaches, else beside it."""
    judged = bench.judge(layout)
    line = layout.fracture.lines[0]
    if layout.fracture.wedge is None:
        for number in layout.holes_over_fracture:
            tilt = best_lag_tilt(judged, number, line)
            if tilt is not None:
                yield _with(layout, {**roles, number: Hole(role="lag", tilt_deg=tilt)})
    lag = lag_beside_plate(judged, line)
    if lag is not None:
        yield _with(layout, roles, lag_screws=(lag,))


_RECIPES = {"compression": _compress, "protection": _protect, "bridging": _bridge}


def suggestions(case: Case, target: int, knowledge: Knowledge) -> tuple[Suggestion, ...]:
    """One suggestion for each principle that fits the fracture."""
    found = (
        suggest(case, target, principle, knowledge)
        for principle in fitting_principles(case.constructs[target], knowledge)
    )
    return tuple(suggestion for suggestion in found if suggestion is not None)
