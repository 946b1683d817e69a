"""Tightening and loading of n layouts at once, as `app.mechanics.states` does it for one.

The last axis of an array is the layout; motions of the faces and interface coordinates are those of
`app.mechanics.layouts.faces`. Units are N, mm and radians.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from app.mechanics.layouts.faces import Contact, Touch, untouched
from app.mechanics.members import BoolArray, IntArray
from app.mechanics.rising import PRECISE, ROOT_ROUNDS
from app.mechanics.sections import Array
from app.mechanics.states import SLIP_ROUNDS


@dataclass(frozen=True, slots=True)
class Tightening:
    """What tightening does to the layouts, besides the force of the lag screws.

    Attributes:
        bent: motions by the flattened pre-bend; shape (d, n).
        shift: motions by the whole eccentric shift; shape (d, n).
        shifts: where there is an eccentric shift at all; shape (n,).
        limit: the most compression that the eccentric screws make (N); shape (n,).
        holds: what friction under the plate bears at each line (N); shape (lines, n).
    """

    bent: Array
    shift: Array
    shifts: BoolArray
    limit: Array
    holds: Array


@dataclass(slots=True)
class Preload:
    """The tightened layouts before any load.

    Attributes:
        share: share of the eccentric shift that was made; shape (n,).
        touch: contact.
        motion: the motions; shape (d, n).
        offset: value added to each coordinate from here on, as in `states.Preloaded`; shape (k, n).
        unresolved: layouts in which the contact could not be settled here; shape (n,).
    """

    share: Array
    touch: Touch
    motion: Array
    offset: Array
    unresolved: BoolArray


def tighten(contact: Contact, by: Tightening) -> Preload:
    """Tighten all layouts: the eccentric screws against a pre-bent plate first, then the lag screws."""
    faces, count = contact.faces, by.bent.shape[1]
    unresolved = np.zeros(count, dtype=bool)
    share = _shares(contact, by, unresolved)
    pulled = np.zeros((len(faces.stiffness), count))
    pulled[faces.lag] = [[-lag.force_n] for lag in faces.lags] if faces.lags else 0.0
    open_ = by.bent + by.shift * share
    free = open_ + contact.moved(pulled) if faces.lags else open_
    touch, ended_not = contact.press(free, joined=False)
    unresolved[ended_not] = True
    touch.force += pulled
    motion = open_ + contact.moved(touch.force)
    moved = faces.rows @ motion
    offset = np.zeros_like(moved)
    kept = [slide for _, slide in faces.spans] + list(range(len(moved)))[faces.lag]
    offset[kept] = -touch.force[kept] / faces.stiffness[kept, None] - moved[kept]
    return Preload(share, touch, motion, offset, unresolved)


def load(contact: Contact, by: Tightening, before: Preload, moved: Array) -> tuple[Touch, IntArray]:
    """Contact under a load that moves the open faces by `moved` (d, n), and the layouts in which it wasn't settled."""
    free = by.bent + by.shift * before.share + moved
    return contact.press(free, joined=True, offset=before.offset, begin=before.touch)


def _shares(contact: Contact, by: Tightening, unresolved: BoolArray) -> Array:
    """Share of the eccentric shift in every layout: up to 1, below 0 where the plate slips back."""
    share = np.zeros(len(by.limit))
    at = np.flatnonzero(by.shifts)
    if len(at):
        squeeze = _Squeeze(contact.of(at), by.bent[:, at], by.shift[:, at])
        share[at] = _share(squeeze, by.limit[at], by.holds[:, at])
        unresolved[at] |= squeeze.unresolved
    return share


class _Squeeze:
    """Compression at each line as the eccentric shift grows, each search beginning where the last one ended."""

    def __init__(self, contact: Contact, bent: Array, shift: Array) -> None:
        self.contact, self.bent, self.shift = contact, bent, shift
        self.unresolved = np.zeros(bent.shape[1], dtype=bool)
        self.near = untouched(contact.faces, bent.shape[1])
        self.begun = False

    def __call__(self, share: Array, at: IntArray) -> Array:
        """Compression (N) of the layouts `at`, each at its share; shape (lines, layouts)."""
        faces, whole = self.contact.faces, len(at) == len(self.unresolved)
        contact = self.contact if whole else self.contact.of(at)
        begin = self.near.of(at) if self.begun else None
        self.begun = True
        touch, bad = contact.press(self.bent[:, at] + self.shift[:, at] * share, joined=False, begin=begin)
        self.unresolved[at[bad]] = True
        self.near.put(at, touch)
        return np.array([touch.force[first:slide].sum(axis=0) for first, slide in faces.spans])


def _share(squeeze: _Squeeze, limit: Array, holds: Array) -> Array:
    every = np.arange(len(limit))
    bent_only = squeeze(np.zeros(len(limit)), every)
    whole = squeeze(np.ones(len(limit)), every)

    def excess(pressed: Array, at: IntArray) -> Array:
        return np.asarray(np.maximum((pressed - bent_only[:, at]).max(axis=0), 0.0) - limit[at])

    high = excess(whole, every)
    share, pressed = np.ones(len(limit)), whole
    none = (high > 0.0) & ~(limit > 0.0)
    share[none], pressed[:, none] = 0.0, bent_only[:, none]
    at = np.flatnonzero((high > 0.0) & (limit > 0.0))
    if len(at):
        zero, one = np.zeros(len(at)), np.ones(len(at))
        share[at], pressed[:, at] = _root(squeeze, excess, at, (zero, one), (-limit[at], high[at]))

    def over(pressed: Array, at: IntArray) -> Array:
        return np.asarray((pressed - holds[:, at]).max(axis=0))

    too_much = over(pressed, every)
    at = np.flatnonzero(too_much > 0.0)
    if not len(at):
        return share
    low, low_value = np.full(len(limit), np.nan), np.full(len(limit), np.nan)
    todo = at
    for n in range(1, SLIP_ROUNDS):
        value = over(squeeze(share[todo] - n, todo), todo)
        fits = value <= 0.0
        low[todo[fits]], low_value[todo[fits]] = share[todo[fits]] - n, value[fits]
        todo = todo[~fits]
        if not len(todo):
            break
    at = at[~np.isnan(low[at])]
    if len(at):
        part, _ = _root(squeeze, over, at, (low[at], share[at]), (low_value[at], too_much[at]))
        share[at] = low[at] + (share[at] - low[at]) * part
    return share


def _root(
    squeeze: _Squeeze,
    function: Callable[[Array, IntArray], Array],
    at: IntArray,
    ends: tuple[Array, Array],
    values: tuple[Array, Array],
) -> tuple[Array, Array]:
    """Where between the two ends (0…1) a rising function of the compression vanishes, and the compression there.

    Step for step as `rising_root` does it.
    """
    low, high = np.zeros(len(at)), np.ones(len(at))
    low_value, high_value = (v.copy() for v in values)
    middle, pressed = high.copy(), np.zeros((len(squeeze.contact.faces.spans), len(at)))
    kept = np.zeros(len(at), dtype=np.intp)  # the end that stayed last: −1 the lower one
    go = np.arange(len(at))
    for _ in range(ROOT_ROUNDS):
        lv, hv = low_value[go], high_value[go]
        middle[go] = low[go] + (high[go] - low[go]) * -lv / (hv - lv)
        pressed[:, go] = squeeze(ends[0][go] + middle[go] * (ends[1] - ends[0])[go], at[go])
        value = function(pressed[:, go], at[go])
        more = ~(np.abs(value) <= PRECISE * (hv - lv))
        go, value, up = go[more], value[more], value[more] > 0.0
        if not len(go):
            break
        stays_low, stays_high = np.where(kept[go] < 0, 0.5, 1.0), np.where(kept[go] > 0, 0.5, 1.0)
        high[go], high_value[go] = np.where(up, middle[go], high[go]), np.where(up, value, high_value[go] * stays_high)
        low[go], low_value[go] = np.where(up, low[go], middle[go]), np.where(up, low_value[go] * stays_low, value)
        kept[go] = np.where(up, -1, 1)
    return middle, pressed
