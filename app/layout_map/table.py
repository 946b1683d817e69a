"""All layouts of one construct, with every figure and what the rules that count say of each."""

from __future__ import annotations

from collections.abc import Callable, Hashable
from dataclasses import dataclass
from typing import Literal

import numpy as np

from app.assess import Assessment, Knowledge
from app.figures.figure import NONE, Form
from app.figures.mechanics import AXIAL, PEAK, STRAIN_FAR, STRAIN_NEAR, TORSION, WORST
from app.layout_map.counting import WEIGHT, Counting, Levels
from app.layout_map.filling import Filling, NoMapError, filling
from app.mechanics.layouts.answers import LayoutMap
from app.mechanics.layouts.solve import layout_map
from app.mechanics.members import BoolArray
from app.mechanics.model import Construct
from app.mechanics.of_layout import Loading, model_of, preset_loading
from app.mechanics.sections import Array

BAND = 0.05  # assumed: figures of two layouts that differ by less are not told apart
PASSES_BELOW = WEIGHT["caution"]
MOSTLY = 0.5  # of the layouts: a figure that fewer have is not offered first
Wanted = Literal["lower", "higher"] | None


@dataclass(frozen=True, slots=True)
class Axis:
    """A figure of the map.

    Attributes:
        id: its name in addresses and documents.
        label: what it is called.
        unit: its unit.
        form: how a number is written.
        read: its values from the map, sizes without sign; shape (2**n,).
        log: whether it is drawn on a logarithmic scale.
        short: what it is called where there is little room.
    """

    id: str
    label: str
    unit: str
    form: Form
    read: Callable[[LayoutMap], Array]
    log: bool = False
    short: str = ""

    @property
    def heading(self) -> str:
        """Label and unit."""
        return f"{self.label}, {self.unit}" if self.unit else self.label

    def told(self, value: float) -> str:
        """A value with its unit; a dash where there is none."""
        return NONE if np.isnan(value) else f"{self.form(value)} {self.unit}".strip()


AXES: dict[str, Axis] = {
    axis.id: axis
    for axis in (
        Axis("axial", AXIAL.full_name, AXIAL.unit, AXIAL.form, lambda m: m.figures.axial_stiffness, True, "axial"),
        Axis("torsion", TORSION.full_name, TORSION.unit, TORSION.form, lambda m: m.figures.torsional_stiffness,
             False, "torsion"),
        Axis("strain-near", STRAIN_NEAR.label, STRAIN_NEAR.unit, STRAIN_NEAR.form,
             lambda m: abs(m.figures.near_strain), True, "strain near"),
        Axis("strain-far", STRAIN_FAR.label, STRAIN_FAR.unit, STRAIN_FAR.form,
             lambda m: abs(m.figures.far_strain), True, "strain far"),
        Axis("peak-stress", PEAK.full_name, PEAK.unit, PEAK.form, lambda m: m.figures.peak_stress, False, "stress"),
        Axis("pull-out", WORST[0].label, WORST[0].unit, WORST[0].form,
             lambda m: 100.0 * m.figures.pull_out, False, "pull"),
        Axis("screw-bending", WORST[1].label, WORST[1].unit, WORST[1].form,
             lambda m: 100.0 * m.figures.screw_bending, False, "screw bending"),
        Axis("screws", "Screws in the plate", "", lambda value: f"{value:.0f}", lambda m: m.screws.astype(float),
             False, "screws"),
    )
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class LayoutTable:
    """The map of one construct.

    Attributes:
        filling: which holes may be filled, and with what.
        loading: the load and how the ends are held.
        found: the figures of all layouts.
        levels: by rule the gravest level at which it is told in each layout, see `counting.WEIGHT`.
    """

    filling: Filling
    loading: Loading
    found: LayoutMap
    levels: dict[str, Levels]

    @property
    def now(self) -> int:
        """Number of the layout as it is."""
        return self.found.number(self.filling.now)

    @property
    def solved(self) -> BoolArray:
        """Layouts that have figures."""
        return ~(self.found.unstable | self.found.unsolved)

    @property
    def level(self) -> Levels:
        """The gravest level of all rules in each layout."""
        return np.asarray(np.maximum.reduce(list(self.levels.values())))

    @property
    def passes(self) -> BoolArray:
        """Layouts that hold, and that raise neither a stop nor a caution of the rules that count."""
        return np.asarray(self.solved & (self.level < PASSES_BELOW))

    def values(self, axis: str) -> Array:
        """One figure of all layouts; NaN where there is none."""
        return np.where(self.solved, AXES[axis].read(self.found), np.nan)

    def objections(self, number: int) -> tuple[str, ...]:
        """Rules that stop or caution in one layout."""
        return tuple(rule for rule, level in self.levels.items() if level[number] >= PASSES_BELOW)

    def wanted(self, axis: str) -> Wanted:
        """Which way a figure is the better, where nobody would argue under this principle.

        Stiffness and strain: a bridged fracture needs motion, within bounds that its tissue sets.
        """
        if axis in ("peak-stress", "pull-out", "screw-bending", "screws"):
            return "lower"
        if self.filling.judged.construct.principle == "bridging":
            return None
        return "lower" if axis.startswith("strain") else "higher"


Worked = tuple[LayoutMap, dict[str, Levels]]


@dataclass(frozen=True, slots=True)
class Means:
    """How a map is come by.

    Attributes:
        kept: may keep what was worked out, by all that it depends on: the plate as it lies with every screw in place,
            the bone's quality and the load, but not which holes are filled now.
        solve: finds the figures, here or elsewhere.
    """

    kept: Callable[[Hashable, Callable[[], Worked]], Worked] = lambda _, make: make()
    solve: Callable[[Construct], LayoutMap] = layout_map


HERE = Means()


def layout_table(
    assessment: Assessment,
    target: int,
    knowledge: Knowledge,
    loading: Loading | None = None,
    means: Means = HERE,
) -> LayoutTable:
    """Work out the map of one construct, under a loading or else its bone's protected preset.

    Raises:
        NoMapError: there is none; the message says why.
    """
    filled = filling(assessment, target, knowledge)
    loading = loading or assessment.constructs[target].loading or preset_loading(filled.before.construct.bone.name)

    def make() -> Worked:
        try:
            found = means.solve(model_of(filled.judged.layout, knowledge.catalogue, loading))
        except ValueError as error:
            message = f"There is no map of this construct: {error}."
            raise NoMapError(message) from error
        return found, Counting(filled).levels()

    geometry = filled.judged.construct.model_dump_json(exclude={"order", "acknowledged"})
    found, levels = means.kept((geometry, filled.judged.case.bone_quality, filled.holes, loading), make)
    return LayoutTable(filled, loading, found, levels)


@dataclass(frozen=True, slots=True)
class Change:
    """One screw more or less.

    Attributes:
        hole: the hole that changes.
        fills: whether it is filled by the change, or else left empty.
        number: the layout that it makes.
        figures: by axis, the figure then.
        shares: by axis, by what share of itself the figure changes; NaN where it has none.
        objections: rules that stop or caution then and do not now, or do so more gravely.
        unstable: whether that holds nothing.
    """

    hole: int
    fills: bool
    number: int
    figures: dict[str, float]
    shares: dict[str, float]
    objections: tuple[str, ...]
    unstable: bool


def single_changes(table: LayoutTable, axes: tuple[str, ...]) -> tuple[Change, ...]:
    """What each hole would change, filled or left empty; by hole."""
    now, out = table.now, []
    values = {axis: table.values(axis) for axis in axes}
    for k, hole in enumerate(table.found.holes):
        number = now ^ (1 << k)
        then = {axis: float(value[number]) for axis, value in values.items()}
        with np.errstate(all="ignore"):
            shares = {axis: float(np.divide(then[axis] - values[axis][now], abs(values[axis][now]))) for axis in axes}
        graver = tuple(
            rule for rule, level in table.levels.items() if level[number] >= PASSES_BELOW and level[number] > level[now]
        )
        fills = bool(number >> k & 1)
        out.append(Change(hole, fills, number, then, shares, graver, not bool(table.solved[number])))
    return tuple(out)


def gain(table: LayoutTable, change: Change) -> float:
    """By what share the change betters the figure that it betters most; 0 where it betters none, or worsens one.

    Only what differs by more than the band counts, either way.
    """
    if change.unstable or change.objections:
        return 0.0
    signed = [
        share * (1.0 if table.wanted(axis) == "higher" else -1.0)
        for axis, share in change.shares.items()
        if table.wanted(axis) is not None and not np.isnan(share)
    ]
    if not signed or min(signed) < -BAND or max(signed) <= BAND:
        return 0.0
    return max(signed)


def presses(table: LayoutTable, change: Change) -> bool:
    """Whether the screw that a change takes out is one that presses the fracture: rules that count don't miss it."""
    role = table.filling.judged.construct.holes[change.hole - 1].role
    return not change.fills and role in ("lag", "eccentric")


def betters(table: LayoutTable, changes: tuple[Change, ...]) -> tuple[Change, ...]:
    """The three single changes that gain most; none takes out a screw that presses the fracture."""
    found = [change for change in changes if gain(table, change) > 0.0 and not presses(table, change)]
    return tuple(sorted(found, key=lambda change: -gain(table, change))[:3])


def spared(table: LayoutTable, changes: tuple[Change, ...]) -> Change | None:
    """The screw that is missed least: whose leaving out moves the figures least, of those that press no fracture."""
    fit = [change for change in changes if not (change.fills or change.unstable or presses(table, change))]
    return min(fit, key=moved, default=None)


def moved(change: Change) -> float:
    """By what share of itself the figure changes that changes most."""
    return max((abs(share) for share in change.shares.values() if not np.isnan(share)), default=0.0)


def edge(table: LayoutTable, x: str, y: str) -> list[int]:
    """Layouts that pass and that no other one betters in one figure without worsening the other; by the first figure.

    Empty where either figure has no better way under this principle.
    """
    ways = table.wanted(x), table.wanted(y)
    if None in ways:
        return []
    a, b = (v if way == "lower" else -v for v, way in zip((table.values(x), table.values(y)), ways, strict=True))
    at = np.flatnonzero(table.passes & ~np.isnan(a) & ~np.isnan(b))
    order = at[np.lexsort((table.found.screws[at], b[at], a[at]))]
    least, found = np.inf, []
    for number in order.tolist():
        if b[number] < least:
            least = float(b[number])
            found.append(number)
    return found


def usual_axes(table: LayoutTable) -> tuple[str, str]:
    """The two figures that say most under the construct's principle."""
    if table.filling.judged.construct.principle == "bridging":
        locks = bool(np.nanmax(table.values("screw-bending"), initial=0.0) > 0.0)
        strained = ~np.isnan(table.values("strain-far")[table.solved])
        across = "strain-far" if strained.any() and strained.mean() > MOSTLY else "axial"
        return across, "screw-bending" if locks else "pull-out"
    return "torsion", "peak-stress"
