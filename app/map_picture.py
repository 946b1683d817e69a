"""The map of layouts as a picture: a density of layouts over two figures, what bounds them, and which are marked."""

from dataclasses import dataclass
from typing import Any

import numpy as np

from app.assess import Assessment, Knowledge
from app.drawing.layout_map import COLUMNS, ROWS, Bound, Cell, MapPicture, Mark, Scale
from app.layout_map.changes import single_changes, spared
from app.layout_map.filling import NoMapError
from app.layout_map.shape import FIXED
from app.layout_map.table import AXES, Kept, LayoutTable, anew, edge, layout_table, usual_axes
from app.layout_map.wording import NEEDED, cost_said, effect_said, load_said, now_said

TISSUES = ("bone", "fibrocartilage", "granulation")
COUNTED_SAID = (
    "Large squares: layouts to which no rule that counts objects, the stronger the colour the more; small ones: a rule "
    "objects; ring: as it is."
)
FLAT = 0.02  # figures that differ by less over all layouts say nothing of them


def picture_of(table: LayoutTable, knowledge: Knowledge, x: str, y: str, marks: tuple[Mark, ...] = ()) -> MapPicture:
    """The picture over two figures, with the layout as it is and further ``marks``, which lie under it."""
    scales = scale(table, x), scale(table, y)
    values_x, values_y = table.values(x), table.values(y)
    return MapPicture(
        x=scales[0],
        y=scales[1],
        cells=_cells(table, x, y, scales),
        bounds=(*_bounds(knowledge, table, "x", x), *_bounds(knowledge, table, "y", y)),
        edge=tuple((float(values_x[n]), float(values_y[n])) for n in edge(table, x, y)),
        marks=(*marks, *_now_mark(table, x, y)),
        words=_said(table, x, y),
    )


@dataclass(frozen=True, slots=True)
class SmallMap:
    """A small picture of a map, with its sentences."""

    picture: MapPicture
    sentences: tuple[str, ...]


def small_map(assessment: Assessment, target: int, knowledge: Knowledge, kept: Kept = anew) -> SmallMap | None:
    """The map of a construct over its usual figures; None where it has none."""
    try:
        table = layout_table(assessment, target, knowledge, kept=kept)
    except NoMapError:
        return None
    x, y = usual_axes(table)
    least = spared(table, single_changes(table, (x, y)))
    told = [now_said(table, x, y)]
    if least is None:
        told.append(NEEDED)
    else:
        told.append(f"Missed least: hole {least.hole}. Without its screw {effect_said(table, least)}.")
        cost = " ".join(cost_said(knowledge, table, least))
        told.append(f"What it costs: {cost}" if cost else "No rule that counts would object.")
    told.append(f"{COUNTED_SAID} {FIXED} {load_said(table)}")
    return SmallMap(picture_of(table, knowledge, x, y), tuple(told))


def scale(table: LayoutTable, axis: str) -> Scale:
    """The range of a figure over all layouts."""
    one, values = AXES[axis], table.values(axis)
    values = values[~np.isnan(values)]
    if not len(values):
        return Scale(one.heading, 0.0, 1.0, False)
    low, high = float(values.min()), float(values.max())
    log = one.log and low > 0.0
    if log and high / low > 1.0 + FLAT:
        return Scale(one.heading, low / (high / low) ** 0.03, high * (high / low) ** 0.03, True)
    pad = 0.04 * (high - low) if high - low > FLAT * abs(high) else max(0.1 * abs(high), 1e-3)
    return Scale(one.heading, low - pad, high + pad, False)


def cell_numbers(table: LayoutTable, x: str, y: str, scales: tuple[Scale, Scale]) -> Any:
    """For each layout the number of its cell, −1 where it has no place."""
    out = np.full(len(table.found.unstable), -1)
    shares = []
    for one, axis in zip(scales, (x, y), strict=True):
        values = table.values(axis)
        with np.errstate(all="ignore"):
            at = np.log(values) if one.log else values
        low, high = (np.log(one.low), np.log(one.high)) if one.log else (one.low, one.high)
        shares.append(np.clip((at - low) / (high - low), 0.0, 1.0))
    here = ~np.isnan(shares[0]) & ~np.isnan(shares[1])
    column = np.minimum((shares[0][here] * COLUMNS).astype(int), COLUMNS - 1)
    row = np.minimum((shares[1][here] * ROWS).astype(int), ROWS - 1)
    out[here] = column * ROWS + row
    return out


def _cells(table: LayoutTable, x: str, y: str, scales: tuple[Scale, Scale]) -> tuple[Cell, ...]:
    number = cell_numbers(table, x, y, scales)
    here = number >= 0
    counts = np.bincount(number[here], minlength=COLUMNS * ROWS)
    passing = np.bincount(number[here & table.passes], minlength=COLUMNS * ROWS)
    return tuple(
        Cell(at // ROWS, at % ROWS, int(counts[at]), int(passing[at]), _cell_words(int(counts[at]), int(passing[at])))
        for at in np.flatnonzero(counts).tolist()
    )


def _cell_words(count: int, passing: int) -> str:
    layouts = "1 layout" if count == 1 else f"{count} layouts"
    return f"{layouts}, {passing or 'none'} without objection"


def _bounds(knowledge: Knowledge, table: LayoutTable, side: Any, axis: str) -> list[Bound]:
    judged = table.filling.judged
    if axis.startswith("strain"):
        value = knowledge.thresholds.value
        return [Bound(side, value("strain-too-high", f"{name}_max_percent"), name) for name in TISSUES]
    if axis == "peak-stress":
        metal = knowledge.catalogue.materials[judged.layout.series.material]
        return [Bound(side, metal.fatigue_mpa, "fatigue strength"), Bound(side, metal.yield_mpa, "yield")]
    if axis in ("pull-out", "screw-bending"):
        return [Bound(side, 100.0, "capacity")]
    return []


def place(table: LayoutTable, number: int | None, x: str, y: str) -> tuple[float, float] | None:
    """Where a layout lies in the picture; None where it is none of the map's, or lacks a figure."""
    if number is None:
        return None
    at = float(table.values(x)[number]), float(table.values(y)[number])
    return None if np.isnan(at).any() else at


def _now_mark(table: LayoutTable, x: str, y: str) -> tuple[Mark, ...]:
    at = place(table, table.now, x, y)
    return () if at is None else (Mark("now", *at, "", "as it is now"),)


def _said(table: LayoutTable, x: str, y: str) -> str:
    solved, passing = int(table.solved.sum()), int(table.passes.sum())
    return (
        f"Density of {solved:,} layouts over {AXES[x].label.lower()} and {AXES[y].label.lower()}; {passing:,} without "
        "objection of the rules that count. The tables below say the same."
    )


def between(table: LayoutTable, picture: MapPicture, axes: dict[str, str]) -> list[str]:
    """Where all layouts lie between two bounds, so that none is drawn: between which."""
    told = []
    for axis, along in (("x", picture.x), ("y", picture.y)):
        bounds = [bound for bound in picture.bounds if bound.axis == axis]
        values = table.values(axes[axis])
        if np.isnan(values).all() or any(along.low < bound.value < along.high for bound in bounds):
            continue
        under = max((bound for bound in bounds if bound.value <= along.low), key=lambda b: b.value, default=None)
        over = min((bound for bound in bounds if bound.value >= along.high), key=lambda b: b.value, default=None)
        places = [f"above {under.name} ({under.value:g})"] if under else []
        places += [f"below {over.name} ({over.value:g})"] if over else []
        if places:
            told.append(f"{along.label}: all layouts lie {' and '.join(places)}.")
    return told
