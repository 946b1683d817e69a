"""The two sides of a fracture line, each with all its layouts, and what every pair of them makes together.

Left of the line the nodes are eliminated from the proximal end, right of it from the distal one. What couples the two
is one plate node, and the distal face too where a screw at the line holds it: three or six unknowns. Each pair's
stiffness is the sum of the two sides', and all pairs are solved at once, element by element: of an array (…, I, J)
the last two axes are the layouts of the left side and of the right one.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from app.mechanics.layout import Layout, held_fragments
from app.mechanics.layouts.front import Front, Node, Part
from app.mechanics.layouts.ladder import DISTAL, PROXIMAL, Column, Ladder, end_loads, fixed, parts
from app.mechanics.members import BoolArray
from app.mechanics.sections import Array


@dataclass(frozen=True, slots=True)
class Sides:
    """Both sides of line `cut` in one plane, over the same front nodes."""

    plane: int
    columns: tuple[Column, ...]
    cut: int
    left: Front
    right: Front


def cut_line(ladder: Ladder) -> int:
    """The line at which both sides have about as many layouts."""
    free, chains = ladder.group.free, ladder.group.layout.chains
    counts = [sum(h in free for h in chain.holes) for chain in chains]
    return min(range(len(chains) - 1), key=lambda k: max(sum(counts[: k + 1]), sum(counts[k + 1 :])))


def build_sides(ladder: Ladder, plane: int, columns: tuple[Column, ...], cut: int) -> Sides:
    """Eliminate towards the line from both ends."""
    layout = ladder.group.layout
    loads = end_loads(len(layout.lines), columns)
    todo = _Todo(parts(ladder, plane, columns))
    left = Front(len(columns), loads, fixed(plane))
    for rung in _from_proximal(layout, cut):
        _pass(ladder, left, rung, todo, {("l", k): k for k in range(len(layout.lines))})
    last = ("n", cut, len(layout.lines[cut].plate_mm) - 1)
    front = {last, *left.nodes}
    left.add(todo.take_within(front), [last])
    right = Front(len(columns), {n: load for n, load in loads.items() if n not in front}, fixed(plane))
    for rung in _from_distal(layout, cut):
        if not front.intersection(rung):
            _pass(ladder, right, rung, todo, {("r", k): k + 1 for k in range(len(layout.lines))})
    right.add([], left.nodes)
    order = np.concatenate([right.rows(node) for node in left.nodes])
    right.stiffness, right.load = right.stiffness[:, order[:, None], order], right.load[:, order]
    right.nodes = left.nodes
    return Sides(plane, columns, cut, left, right)


def _pass(ladder: Ladder, front: Front, rung: list[Node], todo: _Todo, ends: dict[Node, int]) -> None:
    front.add(todo.take(rung), rung)
    fragment = next((ends[node] for node in rung if node in ends), None)
    front.eliminate(rung, None if fragment is None else _loose(ladder, front, fragment))


class _Todo:
    """Parts that no front has taken in yet."""

    def __init__(self, all_parts: list[Part]) -> None:
        self._left = dict(enumerate(all_parts))
        self._at: dict[Node, list[int]] = {}
        for number, part in self._left.items():
            for node in part.nodes:
                self._at.setdefault(node, []).append(number)

    def take(self, rung: list[Node]) -> list[Part]:
        """Those that join any node of a rung, in order."""
        numbers = sorted({number for node in rung for number in self._at.get(node, ())})
        return [self._left.pop(number) for number in numbers if number in self._left]

    def take_within(self, nodes: set[Node]) -> list[Part]:
        """Those that join these nodes alone."""
        within = [number for number, part in self._left.items() if nodes.issuperset(part.nodes)]
        return [self._left.pop(number) for number in within]


def _loose(ladder: Ladder, front: Front, fragment: int) -> BoolArray:
    """In which layouts of the front no screw holds the fragment."""
    held = np.zeros(len(front.stiffness), dtype=bool)
    for hole, screw in ladder.group.screws.items():
        if fragment in held_fragments(screw):
            held |= front.bit(hole) if hole in front.holes else hole in ladder.group.filled
    return ~held


def _from_proximal(layout: Layout, cut: int) -> list[list[Node]]:
    rungs: list[list[Node]] = [[PROXIMAL]]
    for c in range(cut + 1):
        rungs += [[("b", c, k), ("p", c, k)] for k in range(len(layout.chains[c].holes))]
        nodes: list[Node] = [("n", c, q) for q in range(len(layout.lines[c].plate_mm))]
        rungs += [[("l", c)], *([node] for node in nodes[:-1])]
        if c < cut:
            rungs.append([nodes[-1], ("r", c)])
    return rungs


def _from_distal(layout: Layout, cut: int) -> list[list[Node]]:
    rungs: list[list[Node]] = [[DISTAL]]
    for c in reversed(range(cut + 1, len(layout.chains))):
        rungs += [[("b", c, k), ("p", c, k)] for k in reversed(range(len(layout.chains[c].holes)))]
        rungs.append([("r", c - 1)])
        if c - 1 > cut:
            nodes: list[Node] = [("n", c - 1, q) for q in range(len(layout.lines[c - 1].plate_mm))]
            rungs += [*([node] for node in reversed(nodes[1:])), [nodes[0], ("l", c - 1)]]
    return rungs


Factors = tuple[list[list[Array]], list[Array]]


def factored(matrix: list[list[Array]]) -> Factors:
    """LDLᵀ of symmetric positive definite matrices, one for each element, without pivots.

    `matrix` holds the lower triangle, matrix[r][s] for r ≥ s, as arrays of one shape; it is overwritten.
    """
    size = len(matrix)
    below: list[list[Array]] = [[] for _ in range(size)]
    inverse: list[Array] = []
    for r in range(size):
        for s in range(r):
            below[r].append(matrix[r][s] * inverse[s])
            for t in range(r, size):
                matrix[t][r] = matrix[t][r] - matrix[t][s] * below[r][s]
        inverse.append(1.0 / matrix[r][r])
    return below, inverse


def solve_factored(factors: Factors, right: Array) -> Array:
    """Solve with what `factored` found; `right` (m, …) is overwritten and becomes the solution."""
    below, inverse = factors
    size = len(inverse)
    for r in range(size):
        for s in range(r):
            right[r] -= below[r][s] * right[s]
    for r in range(size):
        right[r] *= inverse[r]
    for r in reversed(range(size)):
        for s in range(r + 1, size):
            right[r] -= below[s][r] * right[s]
    return right


def solve_elementwise(matrix: list[list[Array]], right: Array) -> Array:
    """Solve symmetric positive definite systems, one for each element; both are overwritten, see `factored`."""
    return solve_factored(factored(matrix), right)


class Pairs:
    """Layouts `part` of the left side, each with all of the right side.

    The displacement along load column a per unit of column b, with ball joints at both ends, is `ball(a, b)`; with the
    ends held as the columns ("turn", …) say, it is `held(a, b)`. Each has the shape (I, J).
    """

    def __init__(self, sides: Sides, part: slice) -> None:
        self.sides, self.part = sides, part
        left, right = sides.left, sides.right
        k_l, k_r = np.moveaxis(left.stiffness[part], 0, -1).copy(), np.moveaxis(right.stiffness, 0, -1).copy()
        self.size = k_l.shape[0]  # unknowns that both sides share
        self.shape = (k_l.shape[2], k_r.shape[2])  # numbers of layouts on both sides
        self._factors = factored([[k_l[r, s][:, None] + k_r[r, s] for s in range(r + 1)] for r in range(self.size)])
        self._loads = np.moveaxis(left.load[part], 0, -1), np.moveaxis(right.load, 0, -1)
        self._own = np.moveaxis(left.gram[part], 0, -1), np.moveaxis(right.gram, 0, -1)
        self.number = {column: k for k, column in enumerate(sides.columns)}
        self.turns = tuple(c for c in sides.columns if c[0] == "turn")
        self._load: dict[Column, Array] = {}
        self._moved: dict[Column, Array] = {}
        self._kept: dict[tuple[Column, Column], Array] = {}
        self._back: dict[Column, tuple[Array, ...]] = {}

    def load(self, column: Column) -> Array:
        """Forces of a load column on what both sides share; shape (unknowns, I, J)."""
        if column not in self._load:
            left, right = (each[:, self.number[column]] for each in self._loads)
            self._load[column] = left[..., None] + right[:, None]
        return self._load[column]

    def moved(self, column: Column) -> Array:
        """Displacements of what both sides share per unit of a load column; shape (unknowns, I, J)."""
        if column not in self._moved:
            self._moved[column] = solve_factored(self._factors, self.load(column).copy())
        return self._moved[column]

    def displaced(self, acting: Mapping[Column, float | Array], part: tuple[slice, slice]) -> Array:
        """Displacements of what both sides share under so much of each column, in some pairs; (unknowns, …)."""
        out = np.zeros((self.size, *np.empty(self.shape)[part].shape))
        for column, amount in acting.items():
            out += self.moved(column)[:, *part] * (amount[part] if isinstance(amount, np.ndarray) else amount)
        return out

    def ball(self, a: Column, b: Column) -> Array:
        """Displacement along column a per unit of column b, both ends ball joints."""
        key = (a, b) if a <= b else (b, a)
        if key not in self._kept:
            one, solved = (b, a) if a in self._moved and b not in self._moved else (a, b)
            i, j = self.number[one], self.number[solved]
            out = self._own[0][i, j][:, None] + self._own[1][i, j]
            for force, moved in zip(self.load(one), self.moved(solved), strict=True):
                out += force * moved
            self._kept[key] = out
        return self._kept[key]

    def held(self, a: Column, b: Column) -> Array:
        """Displacement along column a per unit of column b, the ends supported as chosen."""
        if not self.turns:
            return self.ball(a, b)
        out = self.ball(a, b)
        for turn, moment in zip(self.turns, self.end_moments(b), strict=True):
            out = out + self.ball(a, turn) * moment
        return out

    def end_moments(self, b: Column) -> tuple[Array, ...]:
        """Moments at the held ends per unit of column b."""
        if b not in self._back:
            turned = [-self.ball(turn, b) for turn in self.turns]
            if len(self.turns) == 1:
                self._back[b] = (turned[0] / self.ball(self.turns[0], self.turns[0]),)
            elif self.turns:
                (aa, ab), (_, bb) = ([self.ball(s, t) for t in self.turns] for s in self.turns)
                whole = aa * bb - ab * ab
                self._back[b] = (
                    (bb * turned[0] - ab * turned[1]) / whole,
                    (aa * turned[1] - ab * turned[0]) / whole,
                )
            else:
                self._back[b] = ()
        return self._back[b]
