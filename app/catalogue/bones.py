"""Reading the bones."""

from itertools import pairwise
from typing import Literal, cast, get_args

from app.case.models import BONES, SURFACES, Surface
from app.catalogue.figures import all_figures, named, sources
from app.catalogue.models import (
    Alternative,
    Arc,
    AtRisk,
    Axis,
    BoneSpec,
    Bow,
    Direction,
    Figure,
    InTension,
    JointToCheck,
    Minimum,
    ProfileRow,
    Tension,
)
from app.catalogue.tables import Table

PRINCIPLES = ("compression", "protection", "bridging")
_STRETCH = {"name", "end", "from_mm", "to_mm", "advice", "figure"}
FIGURED = (
    "length_mm",
    "length_range_mm",
    "depth_range_mm",
    "profile",
    "midshaft_depth_mm",
    "midshaft_width_mm",
    "midshaft_cortex_mm",
    "distally",
    "depth_axis",
    "bows",
    "surfaces",
    "shaft",
    "torsion_loaded",
    "usual_series",
)
KEYS = {
    "label",
    "code_prefix",
    "length_mm",
    "length_range_mm",
    "depth_range_mm",
    "profile",
    "distally",
    "depth_axis",
    "bows",
    "tension",
    "shaft",
    "torsion_loaded",
    "usual_series",
    "minima",
    "at_risk",
    "joints",
    "alternative",
    "short_tips",
    "figures",
}
OPTIONAL_FIGURED = ("short_tips",)
ALONG: dict[Direction, Axis] = {
    "anterior": "anteroposterior",
    "posterior": "anteroposterior",
    "lateral": "mediolateral",
    "medial": "mediolateral",
    "superior": "superoinferior",
    "inferior": "superoinferior",
}


def read_bones(file: Table, series: tuple[str, ...]) -> dict[str, BoneSpec]:
    """All bones of the file; ``series`` are the keys of plates that exist."""
    known = sources(file)
    return {name: _bone(name, table, known, series) for name, table in file.table("bones").tables()}


def _bone(name: str, table: Table, known: dict[str, Figure], series: tuple[str, ...]) -> BoneSpec:
    table.only(KEYS)
    if name not in BONES:
        raise table.fault("", f"must be one of: {', '.join(BONES)}")
    distally = cast(Direction, table.choice("distally", ALONG))
    return BoneSpec(
        name=name,
        label=table.text("label"),
        code_prefix=table.text("code_prefix"),
        length_mm=table.number("length_mm", 50, 650),
        length_range_mm=_span(table, "length_range_mm", 50, 650),
        depth_range_mm=_span(table, "depth_range_mm", 5, 50),
        profile=_profile(table),
        distally=distally,
        depth_axis=cast(Axis, table.choice("depth_axis", _across(distally))),
        shaft=_span(table, "shaft", 0, 1),
        torsion_loaded=table.flag("torsion_loaded"),
        usual_series=table.choices("usual_series", series),
        tension=_tension(table.table("tension"), known, SURFACES[name]),
        minima=_minima(table.table("minima"), known),
        at_risk=tuple(_at_risk(entry, known, SURFACES[name]) for entry in table.array("at_risk")),
        figures=all_figures(table, known, (*FIGURED, *(name for name in OPTIONAL_FIGURED if name in table.values))),
        joints=tuple(_joint(entry, known) for entry in table.array("joints")),
        bows=tuple(_bow(entry, known, distally) for entry in table.array("bows")),
        alternative=_alternative(table.table("alternative"), known) if "alternative" in table.values else None,
        short_tips=_span(table, "short_tips", 0, 1) if "short_tips" in table.values else None,
    )


def _span(table: Table, name: str, low: float, high: float) -> tuple[float, float]:
    values = table.numbers(name, low, high)
    if len(values) != 2 or values[0] >= values[1]:
        raise table.fault(name, "must be two rising numbers")
    return values[0], values[1]


def _profile(table: Table) -> tuple[ProfileRow, ...]:
    rows = tuple(ProfileRow(*row) for row in table.rows("profile", 4, 0, 150))
    fractions = [row.fraction for row in rows]
    if fractions[0] != 0 or fractions[-1] != 1 or any(a >= b for a, b in pairwise(fractions)):
        raise table.fault("profile", "fractions must rise from 0 to 1")
    if any(not 0 < 2 * row.cortex_mm < min(row.depth_mm, row.width_mm) for row in rows):
        raise table.fault("profile", "the wall must be positive and leave a canal")
    return rows


def _minima(table: Table, known: dict[str, Figure]) -> dict[str, Minimum]:
    table.only(PRINCIPLES)
    return {principle: _minimum(table.table(principle), known) for principle in PRINCIPLES}


def _minimum(table: Table, known: dict[str, Figure]) -> Minimum:
    table.only({"screws", "cortices", "holes", "figure"})
    return Minimum(
        screws=int(table.number("screws", 2, 12)),
        cortices=int(table.number("cortices", 2, 24)),
        holes=int(table.number("holes", 2, 12)),
        figure=named(table, known),
    )


def _across(distally: Direction) -> tuple[Axis, ...]:
    """The axes of the body that lie across the shaft."""
    return tuple(dict.fromkeys(axis for axis in ALONG.values() if axis != ALONG[distally]))


def _bow(table: Table, known: dict[str, Figure], distally: Direction) -> Bow:
    table.only({"apex", "arcs", "figure"})
    arcs = tuple(Arc(*row) for row in table.rows("arcs", 3, -100_000, 100_000))
    places = [place for arc in arcs for place in (arc.start, arc.end)]
    if places != sorted(places) or any(not 0 <= place <= 1 for place in places):
        raise table.fault("arcs", "each row is [from, to, radius], fractions from 0 to 1 that rise")
    if any(abs(arc.radius_mm) < 10 for arc in arcs):
        raise table.fault("arcs", "a radius is at least 10 mm, to either side")
    sideways = [direction for direction, axis in ALONG.items() if axis != ALONG[distally]]
    return Bow(cast(Direction, table.choice("apex", sideways)), arcs, named(table, known))


def _tension(table: Table, known: dict[str, Figure], offered: tuple[Surface, ...]) -> dict[Surface, Tension]:
    table.only(offered)
    return {surface: _in_tension(table.table(surface), known) for surface in offered}


def _in_tension(table: Table, known: dict[str, Figure]) -> Tension:
    table.only({"is", "figure"})
    return Tension(cast(InTension, table.choice("is", get_args(InTension))), named(table, known))


def _joint(table: Table, known: dict[str, Figure]) -> JointToCheck:
    table.only({*_STRETCH, "alone"})
    return JointToCheck(*_stretch(table, known), alone=table.flag("alone"))


def _at_risk(table: Table, known: dict[str, Figure], offered: tuple[Surface, ...]) -> AtRisk:
    table.only({*_STRETCH, "surfaces"})
    return AtRisk(*_stretch(table, known), surfaces=cast(tuple[Surface, ...], table.choices("surfaces", offered)))


def _stretch(
    table: Table, known: dict[str, Figure]
) -> tuple[str, Literal["proximal", "distal"], float, float, str, Figure]:
    """The fields of a ``Stretch``, in their order."""
    end = cast(Literal["proximal", "distal"], table.choice("end", ("proximal", "distal")))
    start = table.number("from_mm", 0, 500)
    return table.text("name"), end, start, table.number("to_mm", start, 500), table.text("advice"), named(table, known)


def _alternative(table: Table, known: dict[str, Figure]) -> Alternative:
    table.only({"text", "figure"})
    return Alternative(table.text("text"), named(table, known))
