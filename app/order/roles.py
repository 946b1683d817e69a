"""The function of each placed screw: which fragment it fixes, which fracture line it acts on, and how."""

from dataclasses import dataclass
from typing import Literal

from app.geometry import Layout, Line, ScrewPath
from app.geometry.fracture import OBTUSE_FROM_DEG, WEDGE

ScrewFunction = Literal["fix", "compress", "lag", "lock"]


@dataclass(frozen=True, slots=True)
class Placed:
    """One placed screw and its function.

    Attributes:
        screw: the path of the screw.
        fragment: index of the fragment it fixes; for a lag screw, of the one that its thread holds.
        line: index of the fracture line that it lies next to or, for a lag screw, crosses.
        function: `fix` (a neutral screw, which clamps the plate on the bone), `compress` (an eccentric one), `lag`, or
            `lock` (a locking one).
        joins: names of the two pieces that a lag screw draws together, one with its head and one with its thread; empty
            for other screws, and for a lag that presses nothing.
    """

    screw: ScrewPath
    fragment: int
    line: int
    function: ScrewFunction
    joins: frozenset[str] = frozenset()

    @property
    def id(self) -> str:
        """The screw's id, ``h3`` or ``s1``."""
        return self.screw.id

    @property
    def on_plate(self) -> bool:
        """Whether it fixes the plate to a fragment; a lag screw joins fragments instead."""
        return self.screw.hole is not None and self.function != "lag"

    @property
    def catches_wedge(self) -> bool:
        """Whether it joins the wedge to one main fragment, and so leaves the main line as it is."""
        return WEDGE in self.joins

    @property
    def wedge_to(self) -> str:
        """Name of the main fragment that it joins the wedge to; empty for any other screw."""
        return next(iter(self.joins - {WEDGE})) if self.catches_wedge else ""

    @property
    def joins_line(self) -> bool:
        """Whether it draws two main fragments together: only such a lag closes its line, and holds it closed."""
        return bool(self.joins) and not self.catches_wedge

    @property
    def across(self) -> int:
        """Index of the fragment on the other side of its line."""
        return self.line + 1 if self.fragment <= self.line else self.line


def placed_screws(layout: Layout) -> dict[str, Placed]:
    """All placed screws by id, in the order of the construct."""
    return {screw.id: _placed(layout, screw) for screw in layout.screws}


def _placed(layout: Layout, screw: ScrewPath) -> Placed:
    function = _function(screw)
    joins = _joins(layout, screw) if function == "lag" else frozenset()
    line = _wedge_line(layout) if WEDGE in joins else _line(layout, screw).index
    return Placed(screw, _fragment(layout, screw), line, function, joins)


def _joins(layout: Layout, screw: ScrewPath) -> frozenset[str]:
    pieces = {WEDGE, *(fragment.name for fragment in layout.fracture.fragments)}
    held = frozenset(screw.owners) & pieces
    return held if len(held) == 2 else frozenset()


def _wedge_line(layout: Layout) -> int:
    wedge = layout.fracture.wedge
    return 0 if wedge is None else wedge.line


def _function(screw: ScrewPath) -> ScrewFunction:
    if screw.role == "lag":
        return "lag"
    if screw.spec.kind == "locking":
        return "lock"
    return "compress" if screw.role == "eccentric" else "fix"


def _fragment(layout: Layout, screw: ScrewPath) -> int:
    for fragment in layout.fracture.fragments:
        if fragment.name == screw.home:
            return fragment.index
    # a screw that holds a wedge or nothing is counted with the bone under its head
    return sum(screw.s_mm > line.position_mm for line in layout.fracture.lines)


def _line(layout: Layout, screw: ScrewPath) -> Line:
    if screw.meets is None:
        return layout.fracture.line_at(screw.s_mm)
    (s1, _), (s2, _) = screw.meets
    return layout.fracture.line_at((s1 + s2) / 2)


def acute_fragment(line: Line) -> int | None:
    """Index of the fragment with the acute corner at the plate; None for a line that counts as transverse.

    Positive obliquity gives the proximal fragment the obtuse corner.
    """
    if abs(line.obliquity_deg) < OBTUSE_FROM_DEG:
        return None
    return line.index + 1 if line.obliquity_deg > 0 else line.index


def obtuse_fragment(line: Line) -> int | None:
    """Index of the fragment with the obtuse corner at the plate; None for a line that counts as transverse."""
    acute = acute_fragment(line)
    return None if acute is None else 2 * line.index + 1 - acute
