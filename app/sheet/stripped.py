"""What takes the place of a screw whose thread has stripped, by what that screw does.

Standing: common practice, no source; that a lag screw's near hole is as wide as its thread: AO Surgery Reference, hand.
Screws are those of the stock list that fit the plate; nothing else is named.
"""

from dataclasses import dataclass

from app.catalogue import Catalogue
from app.catalogue.models import PlateSeries, ScrewSpec
from app.geometry import Layout
from app.order.roles import Placed, ScrewFunction, placed_screws
from app.rules.edits import holes


@dataclass(frozen=True, slots=True)
class Rescue:
    """A thicker screw that goes where a stripped one was.

    Attributes:
        spec: the screw.
        lengths_mm: those made for the lengths planned (mm).
        gliding_mm: drill bit that widens the gliding hole for it, where it is a lag screw (mm); None elsewhere.
    """

    spec: ScrewSpec
    lengths_mm: tuple[float, ...]
    gliding_mm: float | None


@dataclass(frozen=True, slots=True)
class _Kind:
    """Screws of one size that do the same, through the plate or beside it."""

    function: ScrewFunction
    spec: ScrewSpec
    beside: bool


def thicker(spec: ScrewSpec, catalogue: Catalogue, series: PlateSeries | None) -> ScrewSpec | None:
    """The next thicker cortex screw in stock of the same metal; through a plate, one that its hole lets through.

    Its head must not pass the hole; ``series`` None is an independent lag screw.
    """
    fit = [
        other
        for other in catalogue.screws.values()
        if other.kind == "cortex" and other.material == spec.material and other.thread_mm > spec.thread_mm
        if series is None or other.thread_mm <= series.hole_mm < other.head_mm
    ]
    return min(fit, key=lambda other: other.thread_mm, default=None)


def gliding_mm(spec: ScrewSpec) -> float:
    """Drill bit for a gliding hole (mm), never thinner than the thread that is to pass it free."""
    return spec.thread_mm if spec.gliding_drill_mm is None else max(spec.thread_mm, spec.gliding_drill_mm)


def locking_screw(layout: Layout, catalogue: Catalogue) -> ScrewSpec | None:
    """The locking screw that the plate's holes take; None where they take none."""
    key = layout.series.locking_screw
    return None if key is None else catalogue.screws[key]


def rescues(layout: Layout, catalogue: Catalogue) -> tuple[Rescue, ...]:
    """Thicker screws for the cortex screws of a plan, with the lengths that replace those planned."""
    found: dict[str, Rescue] = {}
    for one in placed_screws(layout).values():
        kind = _kind(layout, one)
        other = _rescue(layout, catalogue, kind)
        if other is None:
            continue
        before = found.get(other.key, Rescue(other, (), None))
        lengths = set(before.lengths_mm)
        planned = one.screw.stock_length_mm
        if planned is not None:
            lengths |= {min((mm for mm in other.stock_mm if mm >= planned), default=other.stock_mm[-1])}
        gliding = gliding_mm(other) if kind.function == "lag" else before.gliding_mm
        found[other.key] = Rescue(other, tuple(sorted(lengths)), gliding)
    return tuple(found.values())


def rescue_parts(layout: Layout, catalogue: Catalogue) -> list[str]:
    """The thicker screws to have ready with their lengths, and the drill bits for gliding holes, in words."""
    parts = []
    for one in rescues(layout, catalogue):
        lengths = ", ".join(f"{mm:g}" for mm in one.lengths_mm)
        parts.append(f"{one.spec.label}{f', {lengths} mm' if lengths else ''}")
        if one.gliding_mm is not None:
            parts.append(f"its {one.gliding_mm:g} mm drill bit for a gliding hole")
    return parts


def stripped_words(layout: Layout, catalogue: Catalogue) -> str:
    """What replaces a stripped screw, one sentence for each kind of screw, and the holes that are free."""
    kinds = dict.fromkeys(_kind(layout, one) for one in placed_screws(layout).values())
    return " ".join([*(_sentence(layout, catalogue, kind) for kind in kinds), _other_holes(layout)])


def _kind(layout: Layout, one: Placed) -> _Kind:
    function = one.function
    if function == "compress" and layout.construct.principle != "compression":
        function = "fix"  # nothing is to be compressed: the plan asks to make it neutral
    return _Kind(function, one.screw.spec, one.screw.hole is None)


def _rescue(layout: Layout, catalogue: Catalogue, kind: _Kind) -> ScrewSpec | None:
    if kind.function == "lock":
        return None
    other = thicker(kind.spec, catalogue, None if kind.beside else layout.series)
    wide = (
        other is not None and kind.function == "lag" and not kind.beside and gliding_mm(other) > layout.series.hole_mm
    )
    return None if wide else other  # the drill of the gliding hole goes through the plate's hole too


def _sentence(layout: Layout, catalogue: Catalogue, kind: _Kind) -> str:
    words = {"lag": _lag, "compress": _eccentric, "fix": _neutral, "lock": _locking}
    return words[kind.function](layout, catalogue, kind)


def _lag(layout: Layout, catalogue: Catalogue, kind: _Kind) -> str:
    name = f"{kind.spec.label} as {'an independent lag screw' if kind.beside else 'a lag screw through the plate'}"
    other = _rescue(layout, catalogue, kind)
    place = "a new lag screw at another place"
    if other is None:
        ways = place
    else:
        ways = (
            f"the {other.label}, the gliding hole first widened to {gliding_mm(other):g} (thread hole "
            f"{other.thread_drill_mm:g}), or {place}"
        )
    return f"{name}: {ways}; never a locking screw, which would hold the pieces apart."


def _eccentric(layout: Layout, catalogue: Catalogue, kind: _Kind) -> str:
    lock = locking_screw(layout, catalogue)
    keeps = [] if lock is None else [f"a {lock.label}, which keeps the position but compresses no more"]
    return _ways(f"{kind.spec.label}, eccentric", [*_thicker_ways(layout, catalogue, kind), *keeps])


def _neutral(layout: Layout, catalogue: Catalogue, kind: _Kind) -> str:
    lock = locking_screw(layout, catalogue)
    keeps = [] if lock is None else [f"a {lock.label} (it keeps the distance that it finds)"]
    return _ways(f"{kind.spec.label}, neutral", [*_thicker_ways(layout, catalogue, kind), *keeps])


def _locking(layout: Layout, catalogue: Catalogue, kind: _Kind) -> str:
    cortex = catalogue.screws[layout.series.cortex_screw]
    return _ways(kind.spec.label, [f"a {cortex.label} aimed into fresh bone, where the plate lies on it"])


def _thicker_ways(layout: Layout, catalogue: Catalogue, kind: _Kind) -> list[str]:
    other = _rescue(layout, catalogue, kind)
    return [] if other is None else [f"the {other.label} (drill {other.thread_drill_mm:g})"]


def _ways(name: str, ways: list[str]) -> str:
    return f"{name}: {', or '.join(ways)}." if ways else f"{name}: nothing thicker in stock goes there."


def _other_holes(layout: Layout) -> str:
    free: dict[str, list[int]] = {}
    taken = {screw.hole for screw in layout.screws}
    for hole in layout.holes:
        if hole.number not in taken and hole.fragment is not None and hole.line is None:
            free.setdefault(layout.fracture.fragments[hole.fragment].name, []).append(hole.number)
    if not free:
        return "No other hole is free."
    return f"Or another hole: {'; '.join(f'{name} {holes(numbers)}' for name, numbers in free.items())}."
