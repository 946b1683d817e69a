"""The map of layouts on the sketch page: picture, tables, what one screw more or less would do."""

from dataclasses import dataclass
from typing import Any

import numpy as np

from app.assess import Assessment, ConstructAssessment
from app.case.models import Construct
from app.drawing.layout_map import COLUMNS, ROWS, Bound, Cell, MapPicture, Mark, Scale, draw_layout_map
from app.figures.mechanics import supports_text
from app.layout_map.shape import FIXED
from app.layout_map.table import (
    AXES,
    BAND,
    Change,
    LayoutTable,
    Means,
    betters,
    edge,
    layout_table,
    single_changes,
    spared,
    usual_axes,
)
from app.mechanics.document import ESTIMATE
from app.mechanics.layouts.solve import layout_map
from app.store import Snapshot
from app.web.panels.variants import whatifs_of
from app.web.state import ServerState

MOST_LISTED = 40
TISSUES = ("bone", "fibrocartilage", "granulation")
FLAT = 0.02  # figures that differ by less over all layouts say nothing of them


@dataclass(frozen=True, slots=True)
class Row:
    """One layout in a list."""

    number: int
    holes: tuple[tuple[int, str], ...]  # hole, and "on", "off" or "never"
    said: str
    x: str
    y: str
    screws: int
    objections: tuple[str, ...]
    now: bool
    edit: Any


@dataclass(frozen=True, slots=True)
class ChangeRow:
    """What one hole would change."""

    hole: int
    what: str
    x: str
    y: str
    moved: tuple[str, str]
    objections: tuple[str, ...]
    unstable: bool
    edit: Any
    why: str


@dataclass(frozen=True, slots=True)
class CountRow:
    """All layouts with so many screws."""

    screws: int
    layouts: int
    passing: int
    x: str
    y: str


@dataclass(frozen=True, slots=True)
class MapView:
    """What the panel shows."""

    x: str
    y: str
    axes: tuple[tuple[str, str], ...]
    x_label: str
    y_label: str
    picture: str
    caption: str
    notes: tuple[str, ...]
    now: Row
    suggested: bool
    whatifs: tuple[tuple[str, str], ...]
    better: tuple[ChangeRow, ...]
    no_better: str
    spared: ChangeRow | None
    changes: tuple[ChangeRow, ...]
    counts: tuple[CountRow, ...]
    edge: tuple[Row, ...]
    no_edge: str
    marks: list[dict[str, Any]]


def table_of(state: ServerState, assessment: Assessment, one: ConstructAssessment) -> LayoutTable:
    """The map of a construct, kept by geometry and load: filling a hole or leaving it empty makes no new one."""
    means = Means(state.maps.get, lambda construct: state.beside.call(layout_map, construct))
    return layout_table(assessment, one.target, state.knowledge, one.loading, means)


def axes_of(table: LayoutTable, x: str | None, y: str | None) -> tuple[str, str]:
    """The axes asked for, or the usual ones."""
    usual = usual_axes(table)
    return x if x in AXES else usual[0], y if y in AXES else usual[1]


def map_view(
    state: ServerState,
    snapshot: Snapshot,
    assessment: Assessment,
    one: ConstructAssessment,
    x: str | None,
    y: str | None,
) -> MapView:
    """The panel of one construct."""
    table = table_of(state, assessment, one)
    x, y = axes_of(table, x, y)
    scales = _scale(table, x), _scale(table, y)
    marks = _whatif_marks(state, snapshot, table, x, y)
    suggestions = _suggested_marks(state, snapshot, table, x, y)
    changes = single_changes(table, tuple(dict.fromkeys((x, y))))
    rows = {change.hole: _change_row(table, change, x, y) for change in changes}
    better, least = betters(table, changes), spared(table, changes)
    numbers = edge(table, x, y)
    points = tuple((float(table.values(x)[n]), float(table.values(y)[n])) for n in numbers)
    picture = MapPicture(
        x=scales[0],
        y=scales[1],
        cells=_cells(table, x, y, scales),
        bounds=(*_bounds(state, table, "x", x), *_bounds(state, table, "y", y)),
        edge=points,
        marks=(*suggestions, *marks, *_now_mark(table, x, y)),
        words=_said(table, x, y),
    )
    return MapView(
        x=x,
        y=y,
        axes=tuple((axis.id, axis.heading) for axis in AXES.values()),
        x_label=AXES[x].label,
        y_label=AXES[y].label,
        picture=draw_layout_map(picture),
        caption=f"{FIXED} {_load(table)} {ESTIMATE[0].upper()}{ESTIMATE[1:]}.",
        notes=(*_notes(table, x, y), *_between(table, picture, {"x": x, "y": y})),
        now=_row(table, table.now, x, y),
        suggested=bool(suggestions),
        whatifs=tuple((mark.letter, mark.words) for mark in marks),
        better=tuple(rows[change.hole] for change in better),
        no_better=_no_better(table, x, y),
        spared=None if least is None else rows[least.hole],
        changes=tuple(rows.values()),
        counts=_counts(table, x, y),
        edge=tuple(_row(table, number, x, y) for number in numbers[:MOST_LISTED]),
        no_edge=_no_edge(table, x, y) if not numbers else "",
        marks=[_hole_mark(change, axis) for axis in dict.fromkeys((x, y)) for change in changes],
    )


def cell_rows(
    table: LayoutTable, x: str, y: str, cell: tuple[int, int] | None, screws: int | None
) -> tuple[tuple[Row, ...], int]:
    """Layouts of one cell, or with so many screws, those that pass first; and how many there are."""
    at_x, at_y = table.values(x), table.values(y)
    here = table.solved & ~np.isnan(at_x) & ~np.isnan(at_y)
    if cell is not None:
        where = _cell_numbers(table, x, y, (_scale(table, x), _scale(table, y)))
        here &= where == cell[0] * ROWS + cell[1]
    if screws is not None:
        here &= table.found.screws == screws
    numbers = np.flatnonzero(here)
    order = np.lexsort((at_y[numbers], table.found.screws[numbers], ~table.passes[numbers]))
    listed = numbers[order][:MOST_LISTED]
    return tuple(_row(table, number, x, y) for number in listed.tolist()), len(numbers)


def _load(table: LayoutTable) -> str:
    load = table.loading
    figures = f"{load.axial_n:g} N, {load.bending_nm:g} N·m bending, {load.torsion_nm:g} N·m torsion"
    return f"Load: {figures}, {supports_text(load.supports)}."


def _scale(table: LayoutTable, axis: str) -> Scale:
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


def _cell_numbers(table: LayoutTable, x: str, y: str, scales: tuple[Scale, Scale]) -> Any:
    """For each layout the number of its cell, −1 where it has no place."""
    out = np.full(len(table.found.unstable), -1)
    shares = []
    for scale, axis in zip(scales, (x, y), strict=True):
        values = table.values(axis)
        with np.errstate(all="ignore"):
            at = np.log(values) if scale.log else values
        low, high = (np.log(scale.low), np.log(scale.high)) if scale.log else (scale.low, scale.high)
        shares.append(np.clip((at - low) / (high - low), 0.0, 1.0))
    here = ~np.isnan(shares[0]) & ~np.isnan(shares[1])
    column = np.minimum((shares[0][here] * COLUMNS).astype(int), COLUMNS - 1)
    row = np.minimum((shares[1][here] * ROWS).astype(int), ROWS - 1)
    out[here] = column * ROWS + row
    return out


def _cells(table: LayoutTable, x: str, y: str, scales: tuple[Scale, Scale]) -> tuple[Cell, ...]:
    number = _cell_numbers(table, x, y, scales)
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


def _bounds(state: ServerState, table: LayoutTable, side: Any, axis: str) -> list[Bound]:
    judged = table.filling.judged
    if axis.startswith("strain"):
        value = state.knowledge.thresholds.value
        return [Bound(side, value("strain-too-high", f"{name}_max_percent"), name) for name in TISSUES]
    if axis == "peak-stress":
        metal = state.knowledge.catalogue.materials[judged.layout.series.material]
        return [Bound(side, metal.fatigue_mpa, "fatigue strength"), Bound(side, metal.yield_mpa, "yield")]
    if axis in ("pull-out", "screw-bending"):
        return [Bound(side, 100.0, "capacity")]
    return []


def _at(table: LayoutTable, number: int | None, x: str, y: str) -> tuple[float, float] | None:
    """Where a layout lies in the picture; None where it is none of the map's, or lacks a figure."""
    if number is None:
        return None
    at = float(table.values(x)[number]), float(table.values(y)[number])
    return None if np.isnan(at).any() else at


def _now_mark(table: LayoutTable, x: str, y: str) -> tuple[Mark, ...]:
    at = _at(table, table.now, x, y)
    return () if at is None else (Mark("now", *at, "", "as it is now"),)


def _whatif_marks(state: ServerState, snapshot: Snapshot, table: LayoutTable, x: str, y: str) -> list[Mark]:
    """The what-ifs of this construct that are layouts of the map, by letter."""
    found: list[Mark] = []
    for one in whatifs_of(state, snapshot, table.filling.before.target):
        at = None if one.construct is None else _at(table, _number_of(table, one.construct), x, y)
        if at is not None:
            found.append(Mark("whatif", *at, chr(ord("A") + len(found) % 26), one.name))
    return found


def _suggested_marks(state: ServerState, snapshot: Snapshot, table: LayoutTable, x: str, y: str) -> list[Mark]:
    """The suggested layouts that are layouts of the map: those under another plate have no place here."""
    known = state.suggested.peek((snapshot.id, snapshot.version, table.filling.before.target)) or ()
    places = (_at(table, _number_of(table, construct), x, y) for construct in known)
    return [Mark("suggested", *at, "", "a suggested layout") for at in places if at is not None]


def _number_of(table: LayoutTable, construct: Construct) -> int | None:
    """The layout that a construct is; None where anything but the filling of holes differs."""
    full = table.filling.judged.construct
    same = {"holes": full.holes, "order": None, "acknowledged": full.acknowledged}
    if construct.model_copy(update=same) != full.model_copy(update=same):
        return None
    filled = {n for n, hole in enumerate(construct.holes, 1) if hole.role != "empty"}
    alike = all(construct.holes[n - 1] == full.holes[n - 1] for n in filled)
    return table.found.number(filled) if alike and filled <= set(table.found.holes) else None


def _row(table: LayoutTable, number: int, x: str, y: str) -> Row:
    filled = frozenset(table.found.filled(number))
    count = len(table.filling.judged.construct.holes)
    states = tuple(
        (n, "on" if n in filled else "off" if n in table.found.holes else "never") for n in range(1, count + 1)
    )
    return Row(
        number=number,
        holes=states,
        said=f"screws in holes {', '.join(map(str, sorted(filled)))}" if filled else "no screw",
        x=AXES[x].told(float(table.values(x)[number])),
        y=AXES[y].told(float(table.values(y)[number])),
        screws=len(filled),
        objections=tuple(map(_rule_words, table.objections(number))),
        now=number == table.now,
        edit=table.filling.edit(filled),
    )


def _rule_words(rule: str) -> str:
    return rule.replace("-", " ")


def _change_row(table: LayoutTable, change: Change, x: str, y: str) -> ChangeRow:
    what = f"{'Fill' if change.fills else 'Leave out'} hole {change.hole}"
    moved = {axis: "holds nothing" if change.unstable else _moved(change.shares[axis]) for axis in change.shares}
    gains = [
        f"{AXES[axis].label[0].lower()}{AXES[axis].label[1:]} {moved[axis]}"
        for axis, share in change.shares.items()
        if not np.isnan(share) and abs(share) > BAND
    ]
    return ChangeRow(
        hole=change.hole,
        what=what,
        x=AXES[x].told(change.figures[x]),
        y=AXES[y].told(change.figures[y]),
        moved=(moved[x], moved[y]),
        objections=tuple(map(_rule_words, change.objections)),
        unstable=change.unstable,
        edit=table.filling.edit(frozenset(table.found.filled(change.number))),
        why=", ".join(gains) or "no figure moves by more than the band",
    )


def _moved(share: float) -> str:
    if np.isnan(share):
        return "none"
    return "±0 %" if round(100 * share) == 0 else f"{100 * share:+.0f} %".replace("-", "−")


def _hole_mark(change: Change, axis: str) -> dict[str, Any]:
    share = change.shares[axis]
    way = "" if change.unstable or np.isnan(share) or abs(share) <= BAND else "up" if share > 0 else "down"
    act = "filled" if change.fills else "left empty"
    said = "holds nothing" if change.unstable else f"{AXES[axis].short} {_moved(share)}"
    return {"axis": axis, "hole": change.hole, "way": "none" if change.unstable else way, "words": f"{act}: {said}"}


def _counts(table: LayoutTable, x: str, y: str) -> tuple[CountRow, ...]:
    rows, screws = [], table.found.screws
    for count in range(len(table.found.holes) + 1):
        here = table.solved & (screws == count)
        if here.any():
            passing = int((here & table.passes).sum())
            rows.append(CountRow(count, int(here.sum()), passing, _range(table, x, here), _range(table, y, here)))
    return tuple(rows)


def _range(table: LayoutTable, axis: str, here: Any) -> str:
    values = table.values(axis)[here]
    values = values[~np.isnan(values)]
    if not len(values):
        return "–"
    low, high = AXES[axis].told(float(values.min())), AXES[axis].told(float(values.max()))
    return low if low == high else f"{AXES[axis].form(float(values.min()))} to {high}"


def _said(table: LayoutTable, x: str, y: str) -> str:
    solved, passing = int(table.solved.sum()), int(table.passes.sum())
    return (
        f"Density of {solved:,} layouts over {AXES[x].label.lower()} and {AXES[y].label.lower()}; {passing:,} without "
        "objection of the rules that count. The tables below say the same."
    )


def _notes(table: LayoutTable, x: str, y: str) -> list[str]:
    found, told = table.found, []
    total = len(found.unstable)
    told.append(
        f"{total:,} ways to fill {len(found.holes)} holes: {int(found.unstable.sum()):,} leave a fragment unheld, "
        f"{int(table.passes.sum()):,} raise no stop and no caution of the rules that count."
    )
    for axis in dict.fromkeys((x, y)):
        none = int((table.solved & np.isnan(table.values(axis))).sum())
        if none:
            told.append(f"{none:,} have no {AXES[axis].label.lower()}, as the faces touch there; they are not drawn.")
        values = table.values(axis)[table.solved]
        values = values[~np.isnan(values)]
        flat = len(values) and float(values.max() - values.min()) <= FLAT * abs(float(values.max()))
        if flat or (axis == "peak-stress" and _determinate(table)):
            told.append(
                f"{AXES[axis].label}: between ball joints what the plate bears over an open gap hangs on the load "
                "alone, so that screws change it little. Choose held ends under Mechanics, or another pair of figures."
            )
    if table.filling.left_out:
        holes = ", ".join(map(str, table.filling.left_out))
        told.append(f"Left empty throughout, as a map takes {len(found.holes)} holes: {holes}.")
    if int(found.unsolved.sum()):
        told.append(f"{int(found.unsolved.sum()):,} could not be computed.")
    if found.singly:
        told.append(f"{found.singly:,} took a solution of their own.")
    return told


def _between(table: LayoutTable, picture: MapPicture, picture_axes: dict[str, str]) -> list[str]:
    """Where all layouts lie between two bounds, so that none is drawn: between which."""
    told = []
    for axis, scale in (("x", picture.x), ("y", picture.y)):
        bounds = [bound for bound in picture.bounds if bound.axis == axis]
        values = table.values(picture_axes[axis])
        if np.isnan(values).all() or any(scale.low < bound.value < scale.high for bound in bounds):
            continue
        under = max((bound for bound in bounds if bound.value <= scale.low), key=lambda b: b.value, default=None)
        over = min((bound for bound in bounds if bound.value >= scale.high), key=lambda b: b.value, default=None)
        places = [f"above {under.name} ({under.value:g})"] if under else []
        places += [f"below {over.name} ({over.value:g})"] if over else []
        if places:
            told.append(f"{scale.label}: all layouts lie {' and '.join(places)}.")
    return told


def _determinate(table: LayoutTable) -> bool:
    """Whether the plate's load over the gap hangs on no screw: ball joints, and a gap that stays open."""
    supports = table.loading.supports
    ball = supports.proximal == "ball" and supports.distal == "ball"
    return ball and all(line.width_mm > 0.0 for line in table.filling.judged.layout.fracture.lines)


def _no_better(table: LayoutTable, x: str, y: str) -> str:
    if all(table.wanted(axis) is None for axis in (x, y)):
        return (
            "Neither figure has a better way when bridging: choose stress, pull or screw bending to see what one screw "
            "betters."
        )
    return (
        f"No single screw betters either figure by more than {100 * BAND:.0f} % (assumed: less is not told "
        "apart) without worsening the other or "
        "bringing an objection."
    )


def _no_edge(table: LayoutTable, x: str, y: str) -> str:
    if table.wanted(x) is None or table.wanted(y) is None:
        return "A bridged fracture needs motion within bounds: stiffness and strain have no better way, and so no edge."
    return "No layout passes the rules that count."
