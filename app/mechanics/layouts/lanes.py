"""The stable layouts of a part on one axis, and what of their tightening depends on the screws alone.

The same as `frame.fragment_shifts`, `shaft_members.kink_turn` and `states` have for one layout, for n of them.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from app.mechanics.members import BoolArray, IntArray
from app.mechanics.model import Construct
from app.mechanics.sections import Array
from app.mechanics.shaft_members import elastic_kink

Filled = dict[int, BoolArray]  # whether each hole, by its index, is filled


@dataclass(frozen=True, slots=True)
class Lanes:
    """The stable layouts of a part as one axis.

    Attributes:
        shape: numbers of layouts on both sides.
        at: where the stable ones are in the flattened part; shape (n,).
        filled: whether each hole is filled; each of shape (n,).
    """

    shape: tuple[int, int]
    at: IntArray
    filled: Filled

    def of(self, values: Array) -> Array:
        """Values of all pairs, as those of the stable layouts; shape (n,)."""
        return values.ravel() if len(self.at) == values.size else values.ravel()[self.at]

    def back(self, values: Array) -> Array:
        """Values of the stable layouts (n,) among those of all pairs, 0 for the others."""
        if len(self.at) == self.shape[0] * self.shape[1]:
            return values.reshape(self.shape)
        out = np.zeros(self.shape[0] * self.shape[1])
        out[self.at] = values
        return out.reshape(self.shape)


def shift_of(construct: Construct, lanes: Lanes, fragment: int) -> Array:
    """Sum of the eccentric shifts of a fragment's screws (mm, along +s); shape (n,)."""
    out = np.zeros(len(lanes.at))
    for screw in construct.screws:
        held = screw.near_fragment if screw.near_fragment is not None else screw.far_fragment
        if held == fragment and screw.shift_mm != 0.0:
            out += lanes.filled[screw.hole_number - 1] * screw.shift_mm
    return out


def limit_of(construct: Construct, lanes: Lanes) -> Array:
    """The most compression that the eccentric screws make (N); shape (n,)."""
    out = np.zeros(len(lanes.at))
    for screw in construct.screws:
        if screw.shift_mm != 0.0:
            out += lanes.filled[screw.hole_number - 1] * screw.compression_limit_n
    return out


def kink_of(construct: Construct, lanes: Lanes, line: int) -> Array:
    """The kink of the unloaded plate at a line (radians); shape (n,)."""
    holes, at, count = construct.plate.hole_s_mm, construct.fracture_lines[line].s_mm, len(lanes.at)
    before, after = at - holes[0], holes[-1] - at
    if before <= 0.0 or after <= 0.0:
        return np.zeros(count)
    bent = construct.prebend_mm * (1.0 / before + 1.0 / after) / len(construct.fracture_lines)
    low, high = np.full(count, -np.inf), np.full(count, np.inf)
    for screw in construct.screws:
        s, on = holes[screw.hole_number - 1], lanes.filled[screw.hole_number - 1]
        if screw.kind != "lag" and s < at:
            low = np.where(on, np.maximum(low, s), low)
        elif screw.kind != "lag" and s > at:
            high = np.where(on, np.minimum(high, s), high)
    low, high = np.where(np.isinf(low), holes[0], low), np.where(np.isinf(high), holes[-1], high)
    return np.asarray(-np.minimum(bent, elastic_kink(construct.plate, high - low)))


def holds_of(construct: Construct, lanes: Lanes) -> Array:
    """What friction under the clamped screws of the side that holds less bears at each line (N); shape (lines, n)."""
    sides, count = [], len(lanes.at)
    for fragment in range(construct.fragment_count):
        held, locked, some = np.zeros(count), np.zeros(count, dtype=bool), np.zeros(count, dtype=bool)
        for screw in construct.screws:
            if screw.near_fragment == fragment and screw.kind != "lag":
                on = lanes.filled[screw.hole_number - 1]
                some |= on
                locked |= on & screw.kind.startswith("locking")
                held += on * screw.clamp_force_n
        sides.append(np.where(locked | ~some, np.inf, construct.friction.plate_bone * held))
    return np.array([np.minimum(a, b) for a, b in pairwise(sides)])
