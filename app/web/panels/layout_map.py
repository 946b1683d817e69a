"""The map of layouts on the sketch page: picture, tables, what one screw more or less would do."""

from dataclasses import dataclass
from typing import Any

import numpy as np

from app.assess import Knowledge
from app.case.models import Construct
from app.drawing.layout_map import ROWS, Mark, draw_layout_map
from app.layout_map.changes import Change, ShareBand, betters, single_changes, spared
from app.layout_map.shape import FIXED
from app.layout_map.table import AXES, LayoutTable, edge, usual_axes
from app.layout_map.wording import NEEDED, cost_said, effect_said, load_said, now_said, share_said, unbroken
from app.map_picture import FLAT, between, cell_numbers, picture_of, place, scale
from app.mechanics.document import ESTIMATE
from app.mechanics.sections import Array

MOST_LISTED = 40


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
    holds: tuple[str, str]
    objections: tuple[str, ...]
    unstable: bool
    edit: Any
    why: str
    effect: str


@dataclass(frozen=True, slots=True)
class CountRow:
    """All layouts with so many screws."""

    screws: int
    layouts: int
    passing: int
    x: str
    y: str


@dataclass(frozen=True, slots=True)
class Others:
    """Further constructs that are marked where they are layouts of the map.

    Attributes:
        whatifs: the what-ifs of the construct, by name.
        suggested: the layouts that were suggested for it, as they were last found.
    """

    whatifs: tuple[tuple[str, Construct], ...] = ()
    suggested: tuple[Construct, ...] = ()


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
    now_said: str
    drawn: bool
    sureness: str
    suggested: bool
    whatifs: tuple[tuple[str, str], ...]
    better: tuple[ChangeRow, ...]
    no_better: str
    spared: ChangeRow | None
    needed: str
    cost: tuple[str, ...]
    changes: tuple[ChangeRow, ...]
    counts: tuple[CountRow, ...]
    edge: tuple[Row, ...]
    no_edge: str
    marks: list[dict[str, Any]]


def axes_of(table: LayoutTable, x: str | None, y: str | None) -> tuple[str, str]:
    """The axes asked for, or the usual ones."""
    usual = usual_axes(table)
    return x if x in AXES else usual[0], y if y in AXES else usual[1]


def map_view(
    table: LayoutTable, knowledge: Knowledge, axes: tuple[str | None, str | None], drawn: Array | None, others: Others
) -> MapView:
    """The panel of one construct; ``drawn`` is what `in_draws` finds of the single changes, if that is known."""
    x, y = axes_of(table, *axes)
    marks, suggestions = _whatif_marks(others, table, x, y), _suggested_marks(others, table, x, y)
    changes = single_changes(table, tuple(dict.fromkeys((x, y))), drawn)
    rows = {change.hole: _change_row(table, change, x, y) for change in changes}
    least, numbers = spared(table, changes), edge(table, x, y)
    picture = picture_of(table, knowledge, x, y, (*suggestions, *marks))
    return MapView(
        x=x,
        y=y,
        axes=tuple((axis.id, axis.heading) for axis in AXES.values()),
        x_label=AXES[x].label,
        y_label=AXES[y].label,
        picture=draw_layout_map(picture),
        caption=f"{FIXED} {load_said(table)} {ESTIMATE[0].upper()}{ESTIMATE[1:]}.",
        notes=(*_notes(table, x, y), *between(table, picture, {"x": x, "y": y})),
        now=_row(table, table.now, x, y),
        now_said=now_said(table, x, y),
        drawn=drawn is not None,
        sureness=_sureness(drawn),
        suggested=bool(suggestions),
        whatifs=tuple((mark.letter, mark.words) for mark in marks),
        better=tuple(rows[change.hole] for change in betters(table, changes)),
        no_better=_no_better(table, x, y),
        spared=None if least is None else rows[least.hole],
        needed=NEEDED,
        cost=() if least is None else cost_said(knowledge, table, least),
        changes=tuple(rows.values()),
        counts=_counts(table, x, y),
        edge=tuple(_row(table, number, x, y) for number in numbers[:MOST_LISTED]),
        no_edge=_no_edge(table, x, y) if not numbers else "",
        marks=[_hole_mark(change, axis) for axis in dict.fromkeys((x, y)) for change in changes],
    )


@dataclass(frozen=True, slots=True)
class FarView:
    """What is shown of a map to those who stand far off."""

    picture: str
    now_said: str
    spared: ChangeRow | None
    needed: str
    cost: tuple[str, ...]
    fixed: str


def far_view(table: LayoutTable, knowledge: Knowledge, drawn: Array | None) -> FarView:
    """The map over its usual figures, and the screw that is missed least."""
    x, y = usual_axes(table)
    least = spared(table, single_changes(table, (x, y), drawn))
    return FarView(
        draw_layout_map(picture_of(table, knowledge, x, y)),
        now_said(table, x, y),
        None if least is None else _change_row(table, least, x, y),
        NEEDED,
        () if least is None else cost_said(knowledge, table, least),
        f"{load_said(table)} Loads, supports and roles held fixed.",
    )


def _sureness(drawn: Array | None) -> str:
    if drawn is None:
        return "By the usual figures so far; how sure that is over what nobody knows is being worked out."
    return (
        f"Each is compared in the same {drawn.shape[1]} draws over what nobody knows before theatre; better is only "
        "what is so in all of them."
    )


def cell_rows(
    table: LayoutTable, x: str, y: str, cell: tuple[int, int] | None, screws: int | None
) -> tuple[tuple[Row, ...], int]:
    """Layouts of one cell, or with so many screws, those that pass first; and how many there are."""
    at_x, at_y = table.values(x), table.values(y)
    here = table.solved & ~np.isnan(at_x) & ~np.isnan(at_y)
    if cell is not None:
        where = cell_numbers(table, x, y, (scale(table, x), scale(table, y)))
        here &= where == cell[0] * ROWS + cell[1]
    if screws is not None:
        here &= table.found.screws == screws
    numbers = np.flatnonzero(here)
    order = np.lexsort((at_y[numbers], table.found.screws[numbers], ~table.passes[numbers]))
    listed = numbers[order][:MOST_LISTED]
    return tuple(_row(table, number, x, y) for number in listed.tolist()), len(numbers)


def _whatif_marks(others: Others, table: LayoutTable, x: str, y: str) -> list[Mark]:
    """The what-ifs that are layouts of the map, by letter."""
    found: list[Mark] = []
    for name, construct in others.whatifs:
        at = place(table, _number_of(table, construct), x, y)
        if at is not None:
            found.append(Mark("whatif", *at, chr(ord("A") + len(found) % 26), name))
    return found


def _suggested_marks(others: Others, table: LayoutTable, x: str, y: str) -> list[Mark]:
    """The suggested layouts that are layouts of the map: those under another plate have no place here."""
    places = (place(table, _number_of(table, construct), x, y) for construct in others.suggested)
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
    shares = {axis: "holds nothing" if change.unstable else share_said(change, axis) for axis in change.shares}
    gains = [f"{AXES[axis].words} {shares[axis]}" for axis in change.shares if axis in change.differs]
    return ChangeRow(
        hole=change.hole,
        what=f"{'Fill' if change.fills else 'Leave out'} hole {change.hole}",
        x=AXES[x].told(change.figures[x]),
        y=AXES[y].told(change.figures[y]),
        moved=(shares[x], shares[y]),
        holds=(_holds(change.bands.get(x)), _holds(change.bands.get(y))),
        objections=tuple(map(_rule_words, change.objections)),
        unstable=change.unstable,
        edit=table.filling.edit(frozenset(table.found.filled(change.number))),
        why=unbroken(", ".join(gains)) or "no figure differs by more than its band",
        effect=effect_said(table, change),
    )


def _holds(band: ShareBand | None) -> str:
    return "" if band is None or band.sure else f"holds in {band.holds} of {band.of}"


def _hole_mark(change: Change, axis: str) -> dict[str, Any]:
    way = ("up" if change.shares[axis] > 0 else "down") if axis in change.differs else ""
    act = "filled" if change.fills else "left empty"
    said = "holds nothing" if change.unstable else f"{AXES[axis].short} {share_said(change, axis)}"
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
        "No single screw betters either figure by more than its band without worsening the other or bringing an "
        "objection."
    )


def _no_edge(table: LayoutTable, x: str, y: str) -> str:
    if table.wanted(x) is None or table.wanted(y) is None:
        return "A bridged fracture needs motion within bounds: stiffness and strain have no better way, and so no edge."
    return "No layout passes the rules that count."
