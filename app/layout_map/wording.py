"""The map in sentences: the layout as it is, what one change does and what it costs, what is held fixed."""

import numpy as np

from app.assess import Knowledge, assess_stored
from app.case import apply
from app.figures.mechanics import supports_text
from app.layout_map.changes import Change
from app.layout_map.table import AXES, LayoutTable

NEEDED = "No screw can be left out: without any one of them a fragment is not held, or less presses the fracture."


def now_said(table: LayoutTable, x: str, y: str) -> str:
    """The layout as it is: two figures, and its screws."""
    figures = (f"{AXES[axis].words} {AXES[axis].told(float(table.values(axis)[table.now]))}" for axis in (x, y))
    count = len(table.filling.now)
    return unbroken(f"Now: {', '.join(dict.fromkeys(figures))}; {'1 screw' if count == 1 else f'{count} screws'}.")


def load_said(table: LayoutTable) -> str:
    """What all layouts bear, and how their ends are held."""
    load = table.loading
    figures = f"{load.axial_n:g} N, {load.bending_nm:g} N·m bending, {load.torsion_nm:g} N·m torsion"
    return f"Load: {figures}, {supports_text(load.supports)}."


def share_said(change: Change, axis: str) -> str:
    """By what share a figure changes, and between what that lies where it is known."""
    share, band = change.shares[axis], change.bands.get(axis)
    if np.isnan(share):
        return "none"
    middle = _percent(share)
    low, high = ("", "") if band is None else (_percent(band.low), _percent(band.high))
    between = f" ({low}\N{NO-BREAK SPACE}to\N{NO-BREAK SPACE}{high})"
    return f"{middle} %" if low == high else f"{middle} %{between}"


def effect_said(table: LayoutTable, change: Change) -> str:
    """What becomes of every figure that is looked at."""
    return unbroken(" and ".join(_effect(table, change, axis) for axis in change.shares))


def _effect(table: LayoutTable, change: Change, axis: str) -> str:
    one, now = AXES[axis], float(table.values(axis)[table.now])
    before, after = one.told(now), one.told(change.figures[axis])
    if before == after:
        return f"{one.words} stays {before}"
    return f"{one.words} goes from {before} to {after}, {share_said(change, axis)}"


def cost_said(knowledge: Knowledge, table: LayoutTable, change: Change) -> tuple[str, ...]:
    """What the rules that count would then object, in their own words."""
    before = table.filling.before
    edit = table.filling.edit(frozenset(table.found.filled(change.number)))
    if edit is None or not change.objections:
        return ()
    after = assess_stored(apply(before.case, edit), knowledge, mechanics=False, remedies=False)
    told = after.constructs[before.target].warnings
    return tuple(one.message for one in told if one.rule in change.objections and one.level != "note")


def unbroken(words: str) -> str:
    """No line ends between a number and its sign."""
    return words.replace(" %", "\N{NO-BREAK SPACE}%")


def _percent(share: float) -> str:
    return "±0" if round(100 * share) == 0 else f"{100 * share:+.0f}".replace("-", "−")
