"""All layouts of a construct: from the construct to every figure."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache

import numpy as np

from app.mechanics.layout import held_fragments
from app.mechanics.layouts.answers import NAMES, Figures, LayoutMap, figures_of
from app.mechanics.layouts.groups import Group, Left, groups
from app.mechanics.layouts.lanes import Lanes
from app.mechanics.layouts.loading import Bench, solve_part
from app.mechanics.members import BoolArray, IntArray
from app.mechanics.model import Construct
from app.mechanics.solve import analyse

MOST_HOLES = 16  # that may be filled or not: 65,536 layouts
_AT_ONCE = 16384  # layouts in one pass, so that what is worked on stays in the processor's cache
_KEPT_BYTES = 1 << 24


def layout_map(construct: Construct) -> LayoutMap:
    """Solve every way of filling the holes of a construct that has a screw in each hole that may be filled.

    Every figure equals that of a single solution (`analyse`) but for rounding.

    Raises:
        ValueError: there is no fracture line, or more than `MOST_HOLES` holes may be filled.
    """
    holes = tuple(sorted(screw.hole_number for screw in construct.screws))
    if not construct.fracture_lines:
        message = "a map of layouts needs a fracture line"
        raise ValueError(message)
    if len(holes) > MOST_HOLES:
        message = f"a map of layouts takes up to {MOST_HOLES} holes that may be filled, not {len(holes)}"
        raise ValueError(message)
    _keep_what_is_freed()
    work = _Work(construct, holes)
    for group in groups(construct):
        if isinstance(group, Left):
            work.leave(group)
        else:
            work.solve(group)
    return work.result()


@cache
def _keep_what_is_freed() -> None:
    """Let glibc's allocator keep what one part has freed for the next, instead of giving it back page by page.

    It keeps up to twice the largest block that was ever given back whole (mallopt(3): the thresholds adjust themselves
    to blocks of up to 32 MB), so one such block is given back here. Otherwise a third of a map's time goes into fresh
    pages. No other allocator minds.
    """
    np.empty(_KEPT_BYTES, dtype=np.uint8)


@dataclass(frozen=True, slots=True)
class _Numbers:
    """Layout numbers of both sides of a group."""

    left: IntArray
    right: IntArray


class _Work:
    def __init__(self, construct: Construct, holes: tuple[int, ...]) -> None:
        self.construct = construct
        self.holes = holes
        self.bits = {hole - 1: k for k, hole in enumerate(holes)}
        self.found = {name: np.full(1 << len(holes), np.nan) for name in NAMES}
        self.unstable = _unstable(construct, self.bits)
        self.unsolved = np.zeros(1 << len(holes), dtype=bool)
        self.singly = 0

    def mask(self, holes: frozenset[int]) -> int:
        return sum(1 << self.bits[hole] for hole in holes)

    def leave(self, left: Left) -> None:
        """Layouts that no frame represents."""
        number = np.arange(len(self.unsolved))
        fixed = self.mask(frozenset(self.bits) - left.free)
        self.unsolved |= (number & fixed == self.mask(left.filled)) & ~self.unstable

    def solve(self, group: Group) -> None:
        bench = Bench(group)
        sides = bench.sides[0]
        number = _Numbers(self._numbers(sides.left.holes), self._numbers(sides.right.holes))
        base, step = self.mask(group.filled), max(1, _AT_ONCE // len(number.right))
        for first in range(0, len(number.left), step):
            part = slice(first, first + step)
            numbers = number.left[part, None] | number.right[None, :] | base
            stable = ~self.unstable[numbers]
            if not stable.any():
                continue
            at = np.flatnonzero(stable)
            of = numbers.ravel()[at]
            filled = {hole: (of >> bit & 1).astype(bool) for hole, bit in self.bits.items()} if bench.tightens else {}
            with np.errstate(all="ignore"):  # layouts that hold nothing are computed along, and thrown away
                figures, unresolved = solve_part(bench, part, Lanes((stable.shape[0], stable.shape[1]), at, filled))
            for name, values in figures.items():
                self.found[name][of] = values
            for one in of[unresolved].tolist():
                self._solve_singly(one)

    def _numbers(self, holes: tuple[int, ...]) -> IntArray:
        """The numbers of a side's layouts, by those of its front."""
        own, out = np.arange(1 << len(holes)), np.zeros(1 << len(holes), dtype=np.intp)
        for k, hole in enumerate(holes):
            out |= (own >> k & 1) << self.bits[hole]
        return out

    def _solve_singly(self, number: int) -> None:
        """A layout whose contact did not settle along with the others."""
        result = analyse(with_layout(self.construct, self.holes, number))
        self.singly += 1
        self.unsolved[number] = result.unstable is not None
        for name, value in figures_of(result).items():
            self.found[name][number] = value

    def result(self) -> LayoutMap:
        return LayoutMap(self.holes, Figures(**self.found), self.unstable, self.unsolved, self.singly)


def with_layout(construct: Construct, holes: tuple[int, ...], number: int) -> Construct:
    """The construct with the screws of one layout only."""
    filled = {hole for k, hole in enumerate(holes) if number >> k & 1}
    return replace(construct, screws=tuple(s for s in construct.screws if s.hole_number in filled))


def _unstable(construct: Construct, bits: dict[int, int]) -> BoolArray:
    """In which layouts some fragment is not held, as `stability.instability` has it; shape (2**n,)."""
    number, count = np.arange(1 << len(bits)), construct.fragment_count
    plated, lagged = np.zeros((2, count, len(number)), dtype=np.int8)
    for screw in construct.screws:
        on = (number >> bits[screw.hole_number - 1] & 1).astype(np.int8)
        tied = held_fragments(screw)
        plated[list(tied)] += on
        if screw.kind == "lag" and screw.far_fragment is not None and screw.far_fragment not in tied:
            lagged[screw.far_fragment] += on
    for lag in construct.lag_screws:
        lagged[list({lag.near_fragment, lag.far_fragment})] += 1
    return np.asarray(((plated == 0) | (plated + lagged < 2)).any(axis=0))
