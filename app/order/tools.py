"""The tools and implants for a whole case: plates, screws with spares, drills, guides, drivers, forceps."""

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass

from app.catalogue.models import ScrewSpec
from app.geometry import Layout
from app.order.actions import CONTOUR_FROM_MM
from app.order.roles import Placed, placed_screws
from app.order.steps import TAP_LIMIT, drills_for, is_countersunk, limiter_words
from app.order.tension import may_use_tension, needs_tension
from app.order.wires import wired_lines


@dataclass(frozen=True, slots=True)
class Item:
    """One kind of thing, and how many of it."""

    name: str
    count: int


@dataclass(frozen=True, slots=True)
class ScrewItem:
    """Screws of one kind and length.

    Attributes:
        label: name of the screw.
        length_mm: length (mm); None: longer than any length made.
        count: how many are needed.
        spares_mm: neighbouring lengths made, to have at hand (mm).
    """

    label: str
    length_mm: float | None
    count: int
    spares_mm: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class ToolList:
    """Everything for one case.

    Attributes:
        plates: plates.
        screws: screws, with spare lengths.
        drills: drill bits.
        taps: taps.
        sleeves: drill sleeves and guides.
        drivers: drivers and torque limiters.
        instruments: other instruments.
    """

    plates: tuple[Item, ...]
    screws: tuple[ScrewItem, ...]
    drills: tuple[Item, ...]
    taps: tuple[Item, ...]
    sleeves: tuple[Item, ...]
    drivers: tuple[Item, ...]
    instruments: tuple[Item, ...]


def tool_list(layouts: tuple[Layout, ...]) -> ToolList:
    """What all constructs of a case need together."""
    placed = tuple(one for layout in layouts for one in placed_screws(layout).values())
    specs = [one.screw.spec for one in placed]
    return ToolList(
        plates=_counted(_plate_name(layout) for layout in layouts),
        screws=_screws(placed),
        drills=_once(
            f"drill bit {size:g} mm" for size in sorted({d.diameter_mm for p in placed for d in drills_for(p)})
        ),
        taps=_once(f"tap {size:g} mm, {TAP_LIMIT}" for size in sorted({spec.tap_mm for spec in specs if spec.tap_mm})),
        sleeves=_once(_sleeves(placed)),
        drivers=_once(_drivers(specs)),
        instruments=_instruments(layouts, placed),
    )


def _counted(names: Iterable[str]) -> tuple[Item, ...]:
    return tuple(Item(name, count) for name, count in Counter(names).items())


def _once(names: Iterable[str]) -> tuple[Item, ...]:
    return tuple(Item(name, 1) for name in dict.fromkeys(names))


def _plate_name(layout: Layout) -> str:
    return f"{layout.series.label}, {layout.construct.plate.holes} holes, {layout.plate_length_mm:.0f} mm"


def _screws(placed: tuple[Placed, ...]) -> tuple[ScrewItem, ...]:
    counts = Counter((one.screw.spec.key, one.screw.stock_length_mm) for one in placed)
    specs = {one.screw.spec.key: one.screw.spec for one in placed}
    keys = sorted(counts, key=lambda key: (specs[key[0]].kind, specs[key[0]].thread_mm, key[0], key[1] or 0.0))
    return tuple(
        ScrewItem(specs[key].label, length, counts[key, length], _neighbours(specs[key], length))
        for key, length in keys
    )


def _neighbours(spec: ScrewSpec, length_mm: float | None) -> tuple[float, ...]:
    if length_mm is None:
        return ()
    at = spec.stock_mm.index(length_mm)
    return (*spec.stock_mm[max(at - 1, 0) : at], *spec.stock_mm[at + 1 : at + 2])


def _sleeves(placed: tuple[Placed, ...]) -> Iterable[str]:
    for one in placed:
        sizes = [f"{drill.diameter_mm:g}" for drill in drills_for(one)]
        if one.function == "lag":
            yield f"drill sleeve {sizes[0]} mm, and centring sleeve {sizes[0]} over {sizes[1]} mm"
        else:
            kind = {"fix": "neutral drill guide", "compress": "eccentric drill guide", "lock": "locking sleeve"}[
                one.function
            ]
            yield f"{kind} {sizes[0]} mm"


def _drivers(specs: list[ScrewSpec]) -> Iterable[str]:
    for spec in specs:
        yield f"driver, {spec.drive}"
    for spec in specs:
        if spec.torque_nm is not None:
            yield limiter_words(spec)


def _instruments(layouts: tuple[Layout, ...], placed: tuple[Placed, ...]) -> tuple[Item, ...]:
    # the head of a lag screw without a plate beneath it splits a thick wall unless it is countersunk (common practice,
    # no source)
    sunk = any(is_countersunk(one) for one in placed)
    return (
        Item("depth gauge", 1),
        *((Item("countersink", 1),) if sunk else ()),
        *_reduction(layouts),
        *_tension(layouts),
        Item("plate-holding forceps", 2),
        *_bending(layouts),
        Item("image intensifier, and film or ruler for the other side's length", 1),
    )


def _reduction(layouts: tuple[Layout, ...]) -> tuple[Item, ...]:
    principles = {layout.construct.principle for layout in layouts}
    found = []
    if principles & {"compression", "protection"}:
        found += [Item("reduction forceps, pointed", 2), Item("reduction forceps, serrated", 1)]
    if "bridging" in principles:
        found += [Item("distractor, or external fixator used as one", 1)]
    if any(wired_lines(layout) for layout in layouts):
        found += [Item("K-wires for holding, thickness to suit the bone", 4)]
    return tuple(found)


def _tension(layouts: tuple[Layout, ...]) -> tuple[Item, ...]:
    pairs = [
        (layout, tuple(placed_screws(layout).values()), line) for layout in layouts for line in layout.fracture.lines
    ]
    if any(needs_tension(layout, screws, line) for layout, screws, line in pairs):
        return (Item("tension device: the gap is wider than the eccentric screws can shift", 1),)
    if any(may_use_tension(layout, line) for layout, _, line in pairs):
        return (Item("tension device, as the other way to compress", 1),)
    return ()


def _bending(layouts: tuple[Layout, ...]) -> tuple[Item, ...]:
    contoured = any(layout.contour_mm >= CONTOUR_FROM_MM for layout in layouts)
    bent = any(layout.construct.plate.prebend_mm > 0 for layout in layouts)
    if not contoured and not bent:
        return ()
    # common practice, no source; the sheet's true-size page has the line to bend a template to
    template = "bending template, bent to the line on the true-size page"
    return Item(template, 1), Item("bending press, pliers or irons", 1)
