"""Suggested layouts: plate length, position and roles that a rule-abiding surgeon might start from.

A suggestion is searched, not looked up: shorter plates are tried before longer ones, each is laid out by a recipe and
judged by all the rules, and the first that raises no stop and no caution is offered. What the user has drawn (bone,
fracture, quality) stays as it is. Which recipes suit which fracture is what the handbooks of the rules say; both-sided
eccentric screws on a transverse line: Wheeless' Textbook of Orthopaedics, one-third tubular plate, and Injury 2011.
"""

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

from app.assess import Knowledge, assess
from app.case.edits import ReplaceConstruct, Together
from app.case.faults import InvalidCase
from app.case.models import Case, Construct, Hole, Plate, Principle, Role
from app.catalogue.models import BoneSpec, PlateSeries
from app.geometry import Layout, hole_offsets, lay_out, summarise
from app.rules import RuleInput
from app.rules.trial import best_lag_tilt, lag_beside_plate
from app.suggest.patterns import fitting_principles, is_oblique

HOLES_BETWEEN = 2  # with one screw a piece between two lines turns about it
MAX_TRIES = 120
USUAL_SCREWS = 3  # to each side: six cortices (Wheeless, forearm: 4 to 6, better 6); common practice elsewhere


@dataclass(frozen=True, slots=True)
class Suggestion:
    """An offered layout: what the button says, what it is for, how clean it is, and the edit that takes it."""

    label: str
    purpose: str
    principle: Principle
    stops: int
    cautions: int
    edit: ReplaceConstruct

    @property
    def on_surface(self) -> str:
        """The surface of the bone that it is made for, in words."""
        return self.edit.value.on_surface

    @property
    def taken(self) -> Together:
        """The edit as the button makes it, under a name for the history."""
        return Together(label=f"Layout, {self.label}", edits=(self.edit,))


def suggest(case: Case, target: int, principle: Principle, knowledge: Knowledge) -> Suggestion | None:
    """The first way to a principle that is offered for this fracture; None only if no plate in stock fits."""
    ways = ways_for(case, target, principle, knowledge)
    return next((found for way in ways if (found := _by(case, target, way, knowledge)) is not None), None)


def _by(case: Case, target: int, way: "Way", knowledge: Knowledge, *, as_it_is: bool = False) -> Suggestion | None:
    """The shortest layout made in this way that raises the fewest stops and cautions; None if no plate fits.

    In poor bone it is longer than the one for normal bone, where a longer one fits.
    """
    usual = 0
    if not as_it_is and case.bone_quality == "poor":
        normal = _by(case.model_copy(update={"bone_quality": "normal"}), target, way, knowledge)
        usual = 0 if normal is None else normal.edit.value.plate.holes
    plate = case.constructs[target].plate if as_it_is else None
    asked = dict.fromkeys((_Asked(usual, plate), _Asked(0, plate), _Asked(0, plate, generous=False)))
    made: list[Suggestion] = []
    for want in asked:
        one = _shortest(case, target, way, knowledge, want)
        if one is not None:
            made.append(one)
            if not one.stops + one.cautions:
                break
    return min(made, key=lambda one: (one.stops, one.cautions), default=None)


@dataclass(frozen=True, slots=True)
class _Asked:
    """More holes than ``beyond``, or ``plate`` where it lies.

    ``generous``: as many screws as one starts from, not just what the bone needs.
    """

    beyond: int
    plate: Plate | None = None
    generous: bool = True


def _shortest(case: Case, target: int, way: "Way", knowledge: Knowledge, asked: "_Asked") -> Suggestion | None:
    """The same among those that are asked for."""
    best: tuple[tuple[int, int], Construct] | None = None
    candidates = _candidates(case, target, way, knowledge, asked)
    longer = (one for one in candidates if one.plate.holes > asked.beyond)
    for tried, construct in enumerate(longer):
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
    principle = construct.principle
    count = len(construct.screw_ids)
    label = f"{way.name}: {construct.plate.holes} holes, {count} {'screw' if count == 1 else 'screws'}"
    edit = ReplaceConstruct(target=target, value=construct)
    return Suggestion(label, way.purpose, principle, stops, cautions, edit)


def _marks(case: Case, construct: Construct, knowledge: Knowledge) -> tuple[int, int] | None:
    """Stops and cautions of a construct by itself: what else the case holds doesn't change them, and takes its time."""
    try:
        alone = case.model_copy(update={"constructs": (construct,)})
        judged = assess(alone, knowledge, mechanics=False, remedies=False)
    except InvalidCase:
        return None
    levels = [warning.level for warning in judged.constructs[0].warnings]
    return levels.count("stop"), levels.count("caution")


def _candidates(case: Case, target: int, way: "Way", knowledge: Knowledge, asked: "_Asked") -> Iterator[Construct]:
    construct = case.constructs[target]
    spec = knowledge.catalogue.bones[construct.bone.name]
    if asked.plate is not None:
        there = knowledge.catalogue.series.get(asked.plate.series)
        if there is not None:
            yield from _laid(case, construct, spec, there, _Seat(asked.plate, way, asked.generous), knowledge)
        return
    stock = [knowledge.catalogue.series[key] for key in spec.usual_series if key in knowledge.catalogue.series]
    if way.principle == "bridging" or case.bone_quality == "poor":
        stock = [series for series in stock if series.locking_screw] or stock
    elif way.principle == "compression":
        stock = [series for series in stock if series.travel_mm > 0] or stock
    for series in stock:
        for holes in series.holes_made:
            for centre in _centres(construct, series, holes):
                plate = Plate(series=series.key, holes=holes, centre_mm=centre, surface=construct.plate.surface)
                yield from _laid(case, construct, spec, series, _Seat(plate, way, asked.generous), knowledge)


@dataclass(frozen=True, slots=True)
class _Seat:
    plate: Plate
    way: "Way"
    generous: bool


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
    principle, poor = seat.way.principle, case.bone_quality == "poor"
    bare = Construct(
        bone=construct.bone,
        fracture=construct.fracture,
        principle=principle,
        plate=seat.plate,
        holes=(Hole(),) * seat.plate.holes,
        acknowledged=construct.acknowledged,
    )
    bench = _Bench(case, knowledge)
    layout = bench.lay(bare)
    minimum = spec.minima[principle]
    # poor bone: a longer plate, and one screw more where it is no bridge that is to bend
    longer = int(knowledge.thresholds.value("screws-per-fragment", "poor_extra_screws")) if poor else 0
    if min(len(side) for side in _main_holes(layout)) < minimum.holes + longer:
        return
    inner = range(1, len(layout.fracture.lines))
    if any(len(_holes_over(layout, fragment)) < HOLES_BETWEEN for fragment in inner):
        return
    fill = poor and principle != "bridging" and series.locking_screw is None
    kind: Role = "locking-2" if series.locking_screw and (poor or principle == "bridging") else "neutral"
    for extra in range(longer, longer + 2) if longer and principle != "bridging" else range(2):
        least = max(minimum.screws, math.ceil(minimum.cortices / 2))
        # the bone's least is for the rules; three a side are what one starts from, if it is not a bridge in good bone
        few = not seat.generous or (principle == "bridging" and not poor)
        usual = least if few else max(least, USUAL_SCREWS)
        want = _Want(usual + extra, fill, kind)
        yield from seat.way.recipe(bench, layout, want)


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
    """How many screws a main fragment is to have, whether every hole is filled, and with what."""

    per_fragment: int
    fill: bool
    kind: Role


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
    proximal, distal = _sides(layout, want)
    numbers = {*proximal, *distal, *_between(layout, want)}
    yield _with(layout, dict.fromkeys(numbers, Hole(role=want.kind)))


def _compress(bench: _Bench, layout: Layout, want: _Want) -> Iterator[Construct]:
    """One side held by a neutral screw, the other pulled by an eccentric one."""
    roles = _pulled(layout, want)
    if is_oblique(layout.construct.fracture, bench.knowledge):
        yield from _with_lags(bench, layout, roles)
    else:
        yield _with(layout, roles, plate=_bent(bench, layout))


def _compress_both(bench: _Bench, layout: Layout, want: _Want) -> Iterator[Construct]:
    """An eccentric screw on either side, tightened in turn; each is what the other pulls against."""
    proximal, distal = _sides(layout, want)
    roles = dict.fromkeys((*proximal, *distal), Hole(role=want.kind))
    roles |= dict.fromkeys((proximal[0], distal[0]), Hole(role="eccentric"))
    yield _with(layout, roles, plate=_bent(bench, layout))


def _pulled(layout: Layout, want: _Want) -> dict[int, Hole]:
    """Roles in which one side is pulled by its inmost hole against a neutral screw in the other side's.

    The side that is pulled has no obtuse corner under the plate.
    """
    proximal, distal = _sides(layout, want)
    roles = dict.fromkeys((*proximal, *distal), Hole(role=want.kind))
    pull, hold = (proximal[0], distal[0]) if _obtuse_distal(layout) else (distal[0], proximal[0])
    return roles | {pull: Hole(role="eccentric"), hold: Hole(role="neutral")}


def _obtuse_distal(layout: Layout) -> bool:
    return layout.fracture.fragments[-1].obtuse_at_plate


def _bent(bench: _Bench, layout: Layout) -> Plate:
    bend = bench.knowledge.thresholds
    middle = (bend.value("prebend", "min_mm") + bend.value("prebend", "max_mm")) / 2
    return layout.construct.plate.model_copy(update={"prebend_mm": middle})


def _protect(bench: _Bench, layout: Layout, want: _Want) -> Iterator[Construct]:
    proximal, distal = _sides(layout, want)
    yield from _with_lags(bench, layout, dict.fromkeys((*proximal, *distal), Hole(role=want.kind)))


def _catch_and_compress(bench: _Bench, layout: Layout, want: _Want) -> Iterator[Construct]:
    """The wedge held by an independent lag screw, the main line closed by an eccentric screw."""
    roles = _pulled(layout, want)
    lag = lag_beside_plate(bench.judge(layout), layout.fracture.lines[0])
    if lag is not None:
        yield _with(layout, roles, lag_screws=(lag,))


def _with_lags(bench: _Bench, layout: Layout, roles: dict[int, Hole]) -> Iterator[Construct]:
    """The construct with a lag screw that presses well: through the plate where a hole reaches, else beside it.

    A wedge is caught first; a second lag screw then presses the main line.
    """
    judged = bench.judge(layout)
    line = layout.fracture.lines[0]
    if layout.fracture.wedge is None:
        for number in layout.holes_over_fracture:
            tilt = best_lag_tilt(judged, number, line)
            if tilt is not None:
                yield _with(layout, {**roles, number: Hole(role="lag", tilt_deg=tilt)})
    lag = lag_beside_plate(judged, line)
    if lag is None:
        return
    if layout.fracture.wedge is None:
        yield _with(layout, roles, lag_screws=(lag,))
        return
    caught = bench.lay(_with(layout, {}, lag_screws=(lag,)))
    for number in layout.holes_over_fracture:
        tilt = best_lag_tilt(bench.judge(caught), number, line, main=True)
        if tilt is not None:
            yield _with(layout, {**roles, number: Hole(role="lag", tilt_deg=tilt)}, lag_screws=(lag,))
    main = lag_beside_plate(bench.judge(caught), line, main=True)
    if main is not None:
        yield _with(layout, roles, lag_screws=(lag, main))


Recipe = Callable[[_Bench, Layout, _Want], Iterator[Construct]]


@dataclass(frozen=True, slots=True)
class Way:
    """One way of building a construct: its name, its principle, what it is for, and its recipe."""

    name: str
    principle: Principle
    purpose: str
    recipe: Recipe


ONE_SIDE = Way(
    "Compression",
    "compression",
    "Presses the faces together along the shaft, for healing without callus; needs a line that fits.",
    _compress,
)
LAG_THROUGH = Way(
    "Compression",
    "compression",
    "Closes an oblique line along the shaft, then lags it: the firmest hold where the line takes a lag screw.",
    _compress,
)
BOTH_SIDES = Way(
    "Compression from both sides",
    "compression",
    "For a transverse line: an eccentric screw on either side, tightened in turn, under a pre-bent plate.",
    _compress_both,
)
PROTECTION = Way(
    "Protection",
    "protection",
    "The lag screw presses the line; the plate keeps bending and turning off it. For long oblique and spiral lines.",
    _protect,
)
WEDGE_LAGGED = Way(
    "Protection",
    "protection",
    "The wedge is joined to a main fragment, the main line lagged too; the plate protects both.",
    _protect,
)
WEDGE_COMPRESSED = Way(
    "Compression beside a lagged wedge",
    "compression",
    "The wedge is lagged first, then the plate closes the main line that is left.",
    _catch_and_compress,
)
BRIDGE = Way(
    "Bridging",
    "bridging",
    "Keeps length, axis and rotation and leaves the pieces alone, for healing with callus.",
    _bridge,
)


def ways_for(case: Case, target: int, principle: Principle, knowledge: Knowledge) -> tuple[Way, ...]:
    """The ways to a principle that suit what is drawn, the likeliest first."""
    fracture = case.constructs[target].fracture
    if principle == "bridging":
        return (BRIDGE,)
    if fracture.wedge is not None:
        far = fracture.wedge.side == "far"  # a wedge under the plate leaves no corner to pull against
        compressed = (WEDGE_COMPRESSED,) if far else ()
        return (WEDGE_LAGGED, *compressed) if principle == "protection" else compressed
    if principle == "protection":
        return (PROTECTION,)
    if abs(fracture.lines[0].obliquity_deg) >= knowledge.thresholds.value("steep-line", "from_deg"):
        return ()  # pressed along the shaft, so steep a line is mainly sheared
    return (LAG_THROUGH,) if is_oblique(fracture, knowledge) else (ONE_SIDE, BOTH_SIDES)


def suggestions(case: Case, target: int, knowledge: Knowledge, *, as_it_is: bool = False) -> tuple[Suggestion, ...]:
    """The layouts offered for the fracture: for each principle that fits, each way to it that comes out clean.

    Of a way that does not, nothing is offered as long as another one of its principle does.

    Args:
        case: the case.
        target: which construct.
        knowledge: what to judge by.
        as_it_is: with the plate where it lies, instead of any in stock.
    """
    offered: list[Suggestion] = []
    for principle in fitting_principles(case.constructs[target], knowledge):
        ways = ways_for(case, target, principle, knowledge)
        found = [one for way in ways if (one := _by(case, target, way, knowledge, as_it_is=as_it_is)) is not None]
        clean = [one for one in found if not one.stops + one.cautions]
        offered += clean or sorted(found, key=lambda one: (one.stops, one.cautions))[:1]
    return tuple(offered)
