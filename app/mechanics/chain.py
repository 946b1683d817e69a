"""Static condensation of a fragment to its two ends, by block tridiagonal elimination (Thomas algorithm).

Stations are ordered along the shaft, and each couples only with its neighbours; the blocks are 6 × 6 (three unknowns of
the bone node, then three of the plate node). The two ends are kept and everything between them is eliminated in one
pass, so the cost is linear in the number of stations. All arrays may carry leading axes (planes, fragments, screw
patterns), which are computed together. Units are N, mm and radians.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from app.mechanics.sections import Array


@dataclass(frozen=True, slots=True)
class FragmentBlocks:
    """Stiffness of one fragment, or of a batch, in stations 0 … n+1; stations 0 and n+1 are its ends.

    A fragment with fewer stations than the batch has unit diagonals and no coupling in the spare ones.

    Attributes:
        diagonal: stiffness of each station; shape (…, n+2, 6, 6).
        to_next: coupling of station k with station k+1, for 1 ≤ k ≤ n; shape (…, n+2, 6, 6).
        to_start: coupling of station k with station 0; shape (…, n+2, 6, 6).
        load: r load columns; shape (…, n+2, 6, r).
    """

    diagonal: Array
    to_next: Array
    to_start: Array
    load: Array


@dataclass(frozen=True, slots=True)
class CondensedFragment:
    """A fragment reduced to its two ends, start first.

    `stiffness` has the shape (…, 12, 12) and `load` (…, 12, r). `recovery` holds one array (…, 6, 12 + r) per inner
    station, from which `recover_stations` gets the eliminated unknowns back.
    """

    stiffness: Array
    load: Array
    recovery: tuple[Array, ...]


def condense_fragment(blocks: FragmentBlocks) -> CondensedFragment:
    """Eliminate every inner station of a fragment; the result can be joined to any neighbour any number of times.

    Raises:
        numpy.linalg.LinAlgError: the fragment has a mechanism of its own, for instance a station tied to nothing.
    """
    count = blocks.diagonal.shape[-3] - 2
    sides = np.concatenate([blocks.to_next, blocks.to_start, blocks.load], axis=-1)
    diagonal = blocks.diagonal
    start = np.concatenate([diagonal[..., 0, :, :], blocks.load[..., 0, :, :]], axis=-1)
    recovery = []
    here, side = diagonal[..., 1, :, :], sides[..., 1, :, :]
    for k in range(1, count + 1):
        solved = np.linalg.solve(here, side)
        recovery.append(solved)
        change = side[..., :12].swapaxes(-1, -2) @ solved
        here = diagonal[..., k + 1, :, :] - change[..., :6, :6]
        side = sides[..., k + 1, :, :].copy()
        side[..., 6:] -= change[..., :6, 6:]
        start = start - change[..., 6:, 6:]
    stiffness = np.empty((*here.shape[:-2], 12, 12))
    stiffness[..., 6:, 6:] = here
    stiffness[..., :6, :6] = start[..., :6]
    stiffness[..., 6:, :6] = side[..., 6:12]
    stiffness[..., :6, 6:] = side[..., 6:12].swapaxes(-1, -2)
    load = np.concatenate([start[..., 6:], side[..., 12:]], axis=-2)
    return CondensedFragment(stiffness, load, tuple(recovery))


def recover_stations(condensed: CondensedFragment, ends: Array, weights: Array) -> Array:
    """Unknowns of all inner stations from those of the two ends (back-substitution); shape (…, n, 6, c).

    `ends` (…, 12, c) holds the unknowns of the ends for c states, and `weights` (r, c) scales the load columns in each
    state.
    """
    start, following = ends[..., :6, :], ends[..., 6:, :]
    found = np.empty((*ends.shape[:-2], len(condensed.recovery), 6, ends.shape[-1]))
    for k in reversed(range(len(condensed.recovery))):
        solved = condensed.recovery[k]
        following = solved[..., 12:] @ weights - solved[..., :6] @ following - solved[..., 6:12] @ start
        found[..., k, :, :] = following
    return found
