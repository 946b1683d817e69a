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
from app.mechanics.layouts.answers import Figures, LayoutMap
from app.mechanics.layouts.solve import layout_map
from app.mechanics.members import BoolArray
from app.mechanics.of_layout import Loading, model_of, preset_loading
from app.mechanics.sections import Array

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
        read: its values, sizes without sign, from figures of any shape; None: it is the number of screws.
        log: whether it is drawn on a logarithmic scale.
        short: what it is called where there is little room.
        words: what it is called within a sentence.
    """

    id: str
    label: str
    unit: str
    form: Form
    read: Callable[[Figures], Array] | None
    log: bool = False
    short: str = ""
    words: str = ""

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
        Axis("axial", AXIAL.full_name, AXIAL.unit, AXIAL.form, lambda f: f.axial_stiffness, True, "axial",
             "axial stiffness"),
        Axis("torsion", TORSION.full_name, TORSION.unit, TORSION.form, lambda f: f.torsional_stiffness,
             False, "torsion", "torsional stiffness"),
        Axis("strain-near", STRAIN_NEAR.label, STRAIN_NEAR.unit, STRAIN_NEAR.form,
             lambda f: abs(f.near_strain), True, "strain near", "strain at the near cortex"),
        Axis("strain-far", STRAIN_FAR.label, STRAIN_FAR.unit, STRAIN_FAR.form,
             lambda f: abs(f.far_strain), True, "strain far", "strain at the far cortex"),
        Axis("peak-stress", PEAK.full_name, PEAK.unit, PEAK.form, lambda f: f.peak_stress, False, "stress",
             "peak stress"),
        Axis("pull-out", WORST[0].label, WORST[0].unit, WORST[0].form,
             lambda f: 100.0 * f.pull_out, False, "pull", "pull on the worst screw"),
        Axis("screw-bending", WORST[1].label, WORST[1].unit, WORST[1].form,
             lambda f: 100.0 * f.screw_bending, False, "screw bending", "bending of the worst screw"),
        Axis("screws", "Screws in the plate", "", lambda value: f"{value:.0f}", None, False, "screws",
             "number of screws"),
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
        key: all that the figures depend on.
    """

    filling: Filling
    loading: Loading
    found: LayoutMap
    levels: dict[str, Levels]
    key: Hashable

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
        read = AXES[axis].read
        values = self.found.screws.astype(np.float64) if read is None else read(self.found.figures)
        return np.where(self.solved, values, np.nan)

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


# Keeps what was worked out, by all that it depends on: the plate as it lies with every screw in place, the bone's
# quality and the load, but not which holes are filled now.
Kept = Callable[[Hashable, Callable[[], Worked]], Worked]


def anew(_: Hashable, make: Callable[[], Worked]) -> Worked:
    """Keeps nothing."""
    return make()


def layout_table(
    assessment: Assessment,
    target: int,
    knowledge: Knowledge,
    loading: Loading | None = None,
    kept: Kept = anew,
) -> LayoutTable:
    """Work out the map of one construct, under a loading or else its bone's protected preset.

    Raises:
        NoMapError: there is none; the message says why.
    """
    filled = filling(assessment, target, knowledge)
    loading = loading or assessment.constructs[target].loading or preset_loading(filled.before.construct.bone.name)

    def make() -> Worked:
        try:
            found = layout_map(model_of(filled.judged.layout, knowledge.catalogue, loading))
        except ValueError as error:
            message = f"There is no map of this construct: {error}."
            raise NoMapError(message) from error
        return found, Counting(filled).levels()

    geometry = filled.judged.construct.model_dump_json(exclude={"order", "acknowledged"})
    key = geometry, filled.judged.case.bone_quality, filled.holes, loading
    found, levels = kept(key, make)
    return LayoutTable(filled, loading, found, levels, key)


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
