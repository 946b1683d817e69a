"""What one screw more or less would do to a layout, and which of that is more than what nobody knows."""

from __future__ import annotations

from collections.abc import Hashable
from dataclasses import dataclass

import numpy as np

from app.assess import Knowledge
from app.layout_map.table import AXES, PASSES_BELOW, LayoutTable
from app.mechanics.layouts.answers import NAMES, Figures
from app.mechanics.model import Construct
from app.mechanics.of_layout import model_of
from app.mechanics.sections import Array


@dataclass(frozen=True, slots=True)
class ShareBand:
    """By what share a figure changes, in the same draws with and without: least and greatest over all of them.

    Attributes:
        low: the least.
        high: the greatest.
        holds: in how many draws it changes the way that it usually does.
        of: number of draws.
    """

    low: float
    high: float
    holds: int
    of: int

    @property
    def sure(self) -> bool:
        """Whether the change is more than its band: it goes one way in all draws."""
        return self.holds == self.of


@dataclass(frozen=True, slots=True)
class Change:
    """One screw more or less.

    Attributes:
        hole: the hole that changes.
        fills: whether it is filled by the change, or else left empty.
        number: the layout that it makes.
        figures: by axis, the figure then.
        shares: by axis, by what share of itself the figure changes; NaN where it has none.
        differs: the axes whose figure looks another one then, and where the draws are known, does so in all of them.
        bands: by axis between what the share lies; empty until the draws are known.
        objections: rules that stop or caution then and do not now, or do so more gravely.
        unstable: whether that holds nothing.
    """

    hole: int
    fills: bool
    number: int
    figures: dict[str, float]
    shares: dict[str, float]
    differs: frozenset[str]
    bands: dict[str, ShareBand]
    objections: tuple[str, ...]
    unstable: bool


def neighbours(table: LayoutTable) -> tuple[int, ...]:
    """The layout as it is, and those that differ from it by one screw, by hole."""
    return (table.now, *(table.now ^ (1 << k) for k in range(len(table.found.holes))))


def drawn_key(table: LayoutTable) -> Hashable:
    """What the draws of the single changes depend on."""
    return table.key, table.now


def drawn_work(table: LayoutTable, knowledge: Knowledge) -> tuple[Construct, tuple[int, ...], tuple[int, ...]]:
    """What `in_draws` takes to find the single changes' figures."""
    model = model_of(table.filling.judged.layout, knowledge.catalogue, table.loading)
    return model, table.found.holes, neighbours(table)


def single_changes(table: LayoutTable, axes: tuple[str, ...], drawn: Array | None = None) -> tuple[Change, ...]:
    """What each hole would change, filled or left empty; by hole. ``drawn`` is what `in_draws` found of the same."""
    now, *others = neighbours(table)
    values = {axis: table.values(axis) for axis in axes}
    drawn_shares = {} if drawn is None else _drawn_shares(axes, drawn)
    out = []
    for row, (hole, number) in enumerate(zip(table.found.holes, others, strict=True)):
        pairs = {axis: (float(value[now]), float(value[number])) for axis, value in values.items()}
        out.append(_change(table, hole, number, pairs, {axis: found[row] for axis, found in drawn_shares.items()}))
    return tuple(out)


def _change(
    table: LayoutTable, hole: int, number: int, pairs: dict[str, tuple[float, float]], drawn: dict[str, Array]
) -> Change:
    shares = {axis: _share(now, then) for axis, (now, then) in pairs.items()}
    bands = {axis: found for axis, row in drawn.items() if (found := _band(shares[axis], row)) is not None}
    seen = {axis for axis, (now, then) in pairs.items() if AXES[axis].told(now) != AXES[axis].told(then)}
    graver = tuple(
        rule
        for rule, level in table.levels.items()
        if level[number] >= PASSES_BELOW and level[number] > level[table.now]
    )
    return Change(
        hole=hole,
        fills=hole not in table.filling.now,
        number=number,
        figures={axis: then for axis, (_, then) in pairs.items()},
        shares=shares,
        differs=frozenset(a for a in seen if not np.isnan(shares[a]) and (a not in bands or bands[a].sure)),
        bands=bands,
        objections=graver,
        unstable=not bool(table.solved[number]),
    )


def _share(now: float, then: float) -> float:
    """By what share of itself a figure changes; NaN where there is none."""
    return (then - now) / abs(now) if now != 0.0 else float("nan")


def _band(usual: float, drawn: Array) -> ShareBand | None:
    told = drawn[~np.isnan(drawn)]
    if np.isnan(usual) or not len(told):
        return None
    low, high = float(min(told.min(), usual)), float(max(told.max(), usual))
    return ShareBand(low, high, int((told * np.sign(usual) > 0.0).sum()), len(drawn))


def _drawn_shares(axes: tuple[str, ...], drawn: Array) -> dict[str, Array]:
    """By axis the shares of all changes in every draw, (changes, draws); none for what mechanics don't tell."""
    figures, out = Figures(**{name: drawn[:, :, k] for k, name in enumerate(NAMES)}), {}
    for axis in axes:
        read = AXES[axis].read
        if read is not None:
            values = read(figures)
            with np.errstate(all="ignore"):
                out[axis] = np.where(values[0] == 0.0, np.nan, (values[1:] - values[0]) / abs(values[0]))
    return out


def gain(table: LayoutTable, change: Change) -> float:
    """By what share the change betters the figure that it betters most; 0 where it betters none, or worsens one.

    Only what differs by more than its band counts, either way.
    """
    if change.unstable or change.objections:
        return 0.0
    signed = [
        change.shares[axis] * (1.0 if table.wanted(axis) == "higher" else -1.0)
        for axis in change.differs
        if table.wanted(axis) is not None
    ]
    return max(signed) if signed and min(signed) > 0.0 else 0.0


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
