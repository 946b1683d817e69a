"""What the map of layouts answers."""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np

from app.mechanics.answers import MechanicsResult
from app.mechanics.members import BoolArray, IntArray
from app.mechanics.sections import Array


@dataclass(frozen=True, slots=True)
class Figures:
    """Figures of all 2ⁿ layouts, each of shape (2**n,); NaN where a layout has no such figure.

    Where there are several fracture lines, strain and motion are those of the line that moves most, as elsewhere.

    Attributes:
        axial_stiffness: N/mm.
        torsional_stiffness: N·m/°.
        near_strain: at the near cortex (percent, opening positive).
        far_strain: at the far cortex (percent, opening positive).
        near_motion: at the near cortex (mm, opening positive).
        far_motion: at the far cortex (mm, opening positive).
        peak_stress: highest stress in the plate (MPa).
        pull_out: highest pull ÷ pull-out force over all screws.
        screw_bending: highest bending stress ÷ yield strength over the locking screws; 0 where there is none.
    """

    axial_stiffness: Array
    torsional_stiffness: Array
    near_strain: Array
    far_strain: Array
    near_motion: Array
    far_motion: Array
    peak_stress: Array
    pull_out: Array
    screw_bending: Array


NAMES = tuple(one.name for one in fields(Figures))


@dataclass(frozen=True, slots=True)
class LayoutMap:
    """Every way to fill the holes of one plate, as it lies.

    Layout number b has a screw in the k-th of the `holes` where bit k of b is 1.

    Attributes:
        holes: numbers of the n holes that may be filled, from proximal to distal.
        figures: the figures of all layouts.
        unstable: layouts in which some fragment is not held; shape (2**n,).
        unsolved: layouts that are stable and could not be computed; shape (2**n,).
        singly: number of layouts whose contact took a solution of its own, in slow time.
    """

    holes: tuple[int, ...]
    figures: Figures
    unstable: BoolArray
    unsolved: BoolArray
    singly: int

    @property
    def screws(self) -> IntArray:
        """Number of screws in plate holes of every layout."""
        number = np.arange(len(self.unstable))
        return np.asarray(sum(((number >> k) & 1 for k in range(len(self.holes))), np.zeros_like(number)))

    def number(self, filled: set[int] | frozenset[int]) -> int:
        """The number of the layout with screws in these holes; those that the map leaves empty don't count."""
        return sum(1 << k for k, hole in enumerate(self.holes) if hole in filled)

    def filled(self, number: int) -> tuple[int, ...]:
        """Numbers of the holes that a layout fills."""
        return tuple(hole for k, hole in enumerate(self.holes) if number >> k & 1)


def figures_of(result: MechanicsResult) -> dict[str, float]:
    """The same figures from a single solution, by name."""
    worst, nan = result.worst, float("nan")
    values: dict[str, float | None] = {
        "axial_stiffness": result.axial_stiffness_n_per_mm,
        "torsional_stiffness": result.torsional_stiffness_nm_per_deg,
        "near_strain": None if worst is None else worst.strain.near_percent,
        "far_strain": None if worst is None else worst.strain.far_percent,
        "near_motion": None if worst is None else worst.motion.near_mm,
        "far_motion": None if worst is None else worst.motion.far_mm,
        "peak_stress": None if result.plate is None else result.plate.peak_mpa,
    }
    found = {name: nan if value is None else float(value) for name, value in values.items()}
    pulls = [s.pull_out_ratio for s in result.screws if s.pull_out_ratio is not None]
    bends = [s.bending_ratio for s in result.screws if s.bending_ratio is not None]
    solved = result.unstable is None
    found["pull_out"] = max(pulls, default=0.0) if solved else nan
    found["screw_bending"] = max(bends, default=0.0) if solved else nan
    return found
