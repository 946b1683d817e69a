"""Elimination of a construct's nodes from one end, for all layouts of the holes passed so far at once.

A front holds the stiffness over the nodes that are still needed, one matrix for each layout of the holes that have been
passed: at the k-th hole only 2ᵏ of them exist, so that a side with m holes costs about 2ᵐ⁺² small solutions, not m·2ᵐ.
Layout number b of a front with holes h₀, h₁, … has a screw in hole hₖ where bit k of b is 1. Every node has three
unknowns in a plane (mm, radians); forces are in N and N·mm.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

import numpy as np

from app.mechanics.members import BoolArray, IntArray
from app.mechanics.sections import Array

Node = tuple[str | int, ...]
_THREE = np.arange(3)
_PROP = 1e3  # stiffness that props up a fragment that nothing holds; what is computed with it is thrown away


@dataclass(frozen=True, slots=True)
class Part:
    """A piece of stiffness between some nodes, which may depend on whether certain holes are filled.

    Attributes:
        nodes: the m nodes that it joins.
        holes: the h holes that it depends on, as the bits of its variants' numbers, the first the least.
        stiffness: one matrix for each variant; shape (2**h, 3m, 3m).
        load: its load columns; shape (2**h, 3m, c), or None where it has none.
    """

    nodes: tuple[Node, ...]
    holes: tuple[int, ...]
    stiffness: Array
    load: Array | None = None


@dataclass(frozen=True, slots=True)
class Step:
    """One elimination: the unknowns that went, as a function of those that stayed and of the weights of the loads.

    Attributes:
        gone: the nodes that went, each with the unknowns that were free.
        kept: the nodes that stayed.
        by_kept: shape (layouts then, gone unknowns, 3·kept).
        by_load: shape (layouts then, gone unknowns, c).
    """

    gone: tuple[tuple[Node, tuple[int, ...]], ...]
    kept: tuple[Node, ...]
    by_kept: Array
    by_load: Array


@dataclass(slots=True)
class Front:
    """The state of an elimination with c load columns; see the module.

    Attributes:
        columns: c.
        loads: forces on single nodes, which don't depend on the layout; each of shape (3, c).
        fixed: unknowns that the supports hold, by node.
        nodes: the nodes of the front.
        holes: the holes passed, bit by bit.
        stiffness: shape (2**holes, 3·nodes, 3·nodes).
        load: shape (2**holes, 3·nodes, c).
        gram: displacement along each load per unit of each other, of what has been eliminated; shape (2**holes, c, c).
        steps: the eliminations so far.
    """

    columns: int
    loads: dict[Node, Array]
    fixed: dict[Node, tuple[int, ...]]
    nodes: tuple[Node, ...] = ()
    holes: tuple[int, ...] = ()
    stiffness: Array = field(default_factory=lambda: np.zeros((1, 0, 0)))
    load: Array = field(init=False)
    gram: Array = field(init=False)
    steps: list[Step] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.load = np.zeros((1, 0, self.columns))
        self.gram = np.zeros((1, self.columns, self.columns))

    def bit(self, hole: int) -> BoolArray:
        """In which layouts of the front the hole is filled; shape (2**holes,)."""
        return np.asarray((np.arange(len(self.stiffness)) >> self.holes.index(hole)) & 1, dtype=bool)

    def add(self, parts: Iterable[Part], nodes: Iterable[Node]) -> None:
        """Take in parts, the nodes that they join, and further `nodes`, with the loads on all that are new."""
        parts = list(parts)
        joined = (node for part in parts for node in part.nodes)
        new = [n for n in dict.fromkeys((*nodes, *joined)) if n not in self.nodes]
        holes = list(dict.fromkeys(h for part in parts for h in part.holes))
        fresh = [hole for hole in holes if hole not in self.holes]
        old, layouts, times = 3 * len(self.nodes), len(self.stiffness), 1 << len(fresh)
        self.nodes, self.holes = (*self.nodes, *new), (*self.holes, *fresh)
        stiffness, load = (each[self._variant(holes)] for each in self._together(parts, holes, new))
        for whole, before, kept in ((stiffness, self.stiffness, (slice(old),) * 2), (load, self.load, (slice(old),))):
            whole.reshape(times, layouts, *whole.shape[1:])[:, :, *kept] += before
        self.stiffness, self.load = stiffness, load
        self.gram = np.concatenate([self.gram] * times)

    def _together(self, parts: list[Part], holes: list[int], new: list[Node]) -> tuple[Array, Array]:
        """Sum of some parts, and what loads them and the `new` nodes, for every state of the `holes` that they have."""
        number, size = np.arange(1 << len(holes)), 3 * len(self.nodes)
        stiffness, load = np.zeros((len(number), size, size)), np.zeros((len(number), size, self.columns))
        for node in new:
            if node in self.loads:
                load[:, self.rows(node)] = self.loads[node]
        for part in parts:
            rows = np.concatenate([self.rows(node) for node in part.nodes])
            variant = np.zeros(len(number), dtype=np.intp)
            for k, hole in enumerate(part.holes):
                variant |= (number >> holes.index(hole) & 1) << k
            stiffness[:, rows[:, None], rows] += part.stiffness[variant]
            if part.load is not None:
                load[:, rows] += part.load[variant]
        return stiffness, load

    def rows(self, node: Node) -> IntArray:
        """Where the three unknowns of a node are in the front."""
        return 3 * self.nodes.index(node) + _THREE

    def _variant(self, holes: Sequence[int]) -> IntArray:
        """In every layout of the front the state of some of its holes, as the bits of a number."""
        number = np.arange(1 << len(self.holes))
        variant = np.zeros(len(number), dtype=np.intp)
        for k, hole in enumerate(holes):
            variant |= (number >> self.holes.index(hole) & 1) << k
        return variant

    def eliminate(self, gone: Sequence[Node], loose: BoolArray | None = None) -> None:
        """Eliminate nodes of the front, all of whose parts have been taken in.

        In the layouts `loose`, shape (2**holes,), the nodes are propped up, so that there is something to compute.
        """
        free = {n: tuple(d for d in range(3) if d not in self.fixed.get(n, ())) for n in gone}
        at = [3 * self.nodes.index(n) + d for n in gone for d in free[n]]
        stay = tuple(n for n in self.nodes if n not in gone)
        left = [3 * self.nodes.index(n) + d for n in stay for d in range(3)]
        rows = self.stiffness[:, at]
        own, beside, load = rows[:, :, at], rows[:, :, left], self.load[:, at]
        if loose is not None and loose.any():
            own = own + loose[:, None, None] * (_PROP * np.eye(len(at)))
        solved = np.linalg.solve(own, np.concatenate([beside, load], axis=2))
        by_kept, by_load = solved[..., : len(left)], solved[..., len(left) :]
        across = beside.swapaxes(1, 2)
        self.stiffness = self.stiffness[:, left][:, :, left] - across @ by_kept
        self.load = self.load[:, left] - across @ by_load
        self.gram = self.gram + load.swapaxes(1, 2) @ by_load
        self.steps.append(Step(tuple(free.items()), stay, by_kept, by_load))
        self.nodes = stay

    def maps(self, combine: Array, picked: slice, moved: Array | None = None) -> dict[Node, Array]:
        """Displacements of all nodes as linear maps of (a weights, the front's f unknowns); each (layouts, 3, a + f).

        The weights of the c load columns are `combine` (c, a) @ the a weights. Only the layouts `picked` are told.
        Where it is known how far the front has `moved`, (layouts, f, a) per weight, the maps are of the weights alone.
        """
        leaf = np.arange(len(self.stiffness))[picked]
        layouts, active, size = len(leaf), combine.shape[1], 3 * len(self.nodes)
        if moved is None:
            moved = np.zeros((layouts, size, active + size))
            moved[:, range(size), range(active, active + size)] = 1.0
        found = {node: moved[:, 3 * k : 3 * k + 3] for k, node in enumerate(self.nodes)}
        for step in reversed(self.steps):
            of = leaf & (len(step.by_load) - 1)
            by_load = (step.by_load @ combine)[of]
            gone = np.zeros((layouts, by_load.shape[1], moved.shape[2]))
            if step.kept:
                np.matmul(-step.by_kept[of], np.concatenate([found[node] for node in step.kept], axis=1), out=gone)
            gone[:, :, :active] += by_load
            row = 0
            for node, free in step.gone:
                if len(free) == 3:
                    found[node] = gone[:, row : row + 3]
                else:
                    found[node] = np.zeros((layouts, 3, moved.shape[2]))
                    found[node][:, list(free)] = gone[:, row : row + len(free)]
                row += len(free)
        return found
