"""The rules that count, on all layouts at once: screws and cortices, density, spread, nearness and zone.

The same as the rules say of each layout by itself, which a test compares layout by layout; what they would propose to
mend is not looked for. What a rule says of one screw, or of two, holds in every layout that has them.
"""

import math
from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from app.geometry import Fragment, ScrewPath
from app.layout_map.filling import Filling
from app.rules import LEVELS
from app.rules.facts import firm, minimum
from app.rules.near import crosses_fracture, near_fracture, over_zone
from app.rules.registry import Finding, Level, RuleInput

Levels = NDArray[np.int8]
Counts = NDArray[np.int64]
Bools = NDArray[np.bool_]

NONE = 0
WEIGHT: dict[Level, int] = {level: len(LEVELS) - k for k, level in enumerate(LEVELS)}  # note 1, caution 2, stop 3
COUNTED = ("screws-per-fragment", "screw-density", "spread", "near-fracture", "crosses-fracture", "over-zone")
_BY_SCREW: dict[str, tuple[Level, Callable[[RuleInput], object]]] = {
    "near-fracture": ("caution", near_fracture),
    "crosses-fracture": ("caution", crosses_fracture),
    "over-zone": ("caution", over_zone),
}


class Counting:
    """All layouts of a filling; layout number b has a screw in its k-th hole where bit k of b is 1."""

    def __init__(self, filling: Filling) -> None:
        self.filling, self.judged = filling, filling.judged
        self.number = np.arange(1 << len(filling.holes))
        self.by_hole = {screw.hole: screw for screw in self.judged.layout.screws if screw.hole is not None}

    def on(self, hole: int) -> Bools:
        """In which layouts a hole is filled."""
        if hole not in self.filling.holes:
            return np.zeros(len(self.number), dtype=bool)
        return np.asarray((self.number >> self.filling.holes.index(hole)) & 1, dtype=bool)

    def levels(self) -> dict[str, Levels]:
        """By rule the gravest level at which it is told in each layout: 0 not at all, 1 note, 2 caution, 3 stop."""
        found = {name: np.zeros(len(self.number), dtype=np.int8) for name in COUNTED}
        self._holds(found["screws-per-fragment"])
        self._density(found["screw-density"])
        self._spread(found["spread"])
        for name, (level, rule) in _BY_SCREW.items():
            for finding in rule(self.judged):  # type: ignore[attr-defined]
                self._told(found[name], finding, level)
        return found

    def _mains(self) -> tuple[Fragment, Fragment]:
        fragments = self.judged.layout.fracture.fragments
        return fragments[0], fragments[-1]

    def _row(self, fragment: Fragment) -> list[int]:
        """Numbers of the holes over a main fragment, from the fracture to the end."""
        row = [hole.number for hole in self.judged.layout.holes if hole.fragment == fragment.index]
        return row[::-1] if fragment.index == 0 else row

    def _screws(self, fragment: Fragment) -> list[ScrewPath]:
        return [screw for screw in self.by_hole.values() if screw.home == fragment.name]

    def _sum(self, amounts: dict[int, int]) -> Counts:
        out = np.zeros(len(self.number), dtype=np.int64)
        for hole, amount in amounts.items():
            out += self.on(hole) * amount
        return out

    def _holds(self, out: Levels) -> None:
        least = minimum(self.judged)
        stop = math.ceil(self.judged.thresholds.value("screws-per-fragment", "stop_below_screws"))
        for fragment in self._mains():
            on = {screw.hole: screw for screw in self._screws(fragment) if screw.hole is not None}
            screws = self._sum(dict.fromkeys(on, 1))
            cortices = self._sum(
                {h: sum(p.holds and p.owner == fragment.name for p in screw.passages) for h, screw in on.items()}
            )
            few = (screws < max(least.screws, stop)) | (cortices < least.cortices)
            level = np.where(screws < stop, WEIGHT["stop"], WEIGHT[firm(least.figure.standing, "caution")])
            np.maximum(out, np.where(few, level, NONE), out=out, casting="unsafe")

    def _density(self, out: Levels) -> None:
        judged = self.judged
        if judged.construct.principle != "bridging":
            return
        limit = judged.thresholds.value("screw-density", "bridging_max")
        filled = self._sum(dict.fromkeys(self.filling.holes, 1))
        most = math.floor(limit * len(judged.construct.holes) + 1e-9)
        _raise(out, filled > most, "caution")
        beside = int(judged.thresholds.value("screw-density", "next_to_zone_max")) + 1
        for fragment in self._mains():
            row = [self.on(hole) for hole in self._row(fragment)]
            if len(row) >= beside:
                _raise(out, np.all(row[:beside], axis=0) & ~np.all(row, axis=0), "note")

    def _spread(self, out: Levels) -> None:
        places = {hole.number: hole.s_mm for hole in self.judged.layout.holes}
        limit = self.judged.thresholds.value("spread", "min_share")
        for fragment in self._mains():
            row = self._row(fragment)
            screws = [screw for screw in self._screws(fragment) if screw.role != "lag" and screw.hole is not None]
            held = self._sum({screw.hole: 1 for screw in screws if screw.hole is not None})
            if screws and len(row) >= 3:
                on = np.array([self.on(screw.hole or 0) for screw in screws])
                s = np.array([screw.s_mm for screw in screws])[:, None]
                wide = np.where(on, s, -np.inf).max(axis=0) - np.where(on, s, np.inf).min(axis=0)
                least = limit * abs(places[row[-1]] - places[row[0]]) - 1e-6
                _raise(out, (held >= 2) & (wide < least), "note")
            if row and row[-1] in (1, len(places)):
                _raise(out, (held >= 1) & ~self.on(row[-1]), "note")

    def _told(self, out: Levels, finding: Finding, usual: Level) -> None:
        """What is said of screws holds wherever all of those in holes are there."""
        holes = [int(subject[1:]) for subject in finding.subject if subject[0] == "h" and subject[1:].isdigit()]
        there = np.all([self.on(hole) for hole in holes], axis=0) if holes else np.ones(len(self.number), dtype=bool)
        _raise(out, there, finding.level or usual)


def _raise(out: Levels, where: Bools, level: Level) -> None:
    out[where] = np.maximum(out[where], WEIGHT[level])
