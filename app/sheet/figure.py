"""The drawings of a sheet: the one that fills the page's width, and the one at true size, cut into tiles."""

import math
import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from app.case.roles import ROLE
from app.drawing import View, draw_sketch, draw_template, legend, template_rows
from app.drawing.template import Row
from app.geometry import Layout
from app.order import plan

if TYPE_CHECKING:
    from app.assess import ConstructAssessment

BONE_BEYOND_MM = 12.0  # bone shown beyond plate and fracture at true size
OVERLAP_MM = 20.0  # shown on both of two neighbouring tiles
_VIEW_BOX = re.compile(r'\bviewBox="([^"]+)"')


@dataclass(frozen=True, slots=True)
class Figure:
    """A stand-alone drawing, its left edge and its size; one unit of it is 1 mm of bone."""

    svg: str
    width_mm: float
    height_mm: float
    left_mm: float = 0.0

    def as_data(self) -> dict[str, Any]:
        """For the template."""
        return {"svg": self.svg, "width": self.width_mm, "height": self.height_mm}


def figure(svg: str) -> Figure:
    """Take the size of a drawing from its window.

    Raises:
        ValueError: the drawing has no window.
    """
    found = _VIEW_BOX.search(svg)
    if found is None:
        message = "the drawing has no viewBox: its scale is unknown"
        raise ValueError(message)
    left, _, width, height = (float(part) for part in found[1].replace(",", " ").split())
    return Figure(svg, width, height, left)


def overview(one: "ConstructAssessment") -> Figure:
    """The drawing for the plan page."""
    return figure(draw_sketch(one, theme="print", interactive=False, charted=False))


def sign_rows(one: "ConstructAssessment") -> list[dict[str, str]]:
    """The signs that stand in this construct's drawing, with their words: screws by their roles, lines, the zone."""
    roles = {screw.role for screw in one.layout.screws}
    lines = one.layout.fracture.lines
    some = {"zone": any(line.zone_mm > 0 for line in lines), "spiral": any(line.spiral for line in lines)}
    shown = roles | {sign for sign, drawn in some.items() if drawn} | {"line", "far"}
    return [
        {"svg": sign.svg, "words": ROLE[sign.id].screw if sign.id in ROLE else sign.words}
        for sign in legend("print")
        if sign.id in shown
    ]


def true_size(one: "ConstructAssessment") -> Figure:
    """The drawing for the true-size pages, cropped to plate and fracture."""
    return figure(draw_sketch(one, view=true_view(one.layout), theme="print", interactive=False, charted=False))


def true_view(layout: Layout) -> View:
    """Plate, fracture and separate screws, with a little bone beyond."""
    beside = [s for screw in layout.screws for s in (screw.head[0], screw.tip[0])]
    ends = (*layout.plate_ends_mm, *layout.fracture.extent_mm, *beside)
    low, high = min(ends) - BONE_BEYOND_MM, max(ends) + BONE_BEYOND_MM
    return View(max(0.0, math.floor(low)), min(layout.shape.length_mm, math.ceil(high)))


def bend_rows(one: "ConstructAssessment") -> tuple[Row, ...]:
    """The lines to bend the plate against; none where the plan has no bending."""
    bends = {step.kind for step in plan(one.layout)}
    prebent = one.construct.principle == "compression" and "prebend" in bends
    return template_rows(one.layout, contoured="contour" in bends, prebent=prebent)


def bending_template(one: "ConstructAssessment", rows: tuple[Row, ...], beside: Figure) -> Figure:
    """The lines at true size, as wide as the drawing at true size and with the plate where that has it."""
    return figure(draw_template(one.layout, rows, beside.left_mm, beside.width_mm))


@dataclass(frozen=True, slots=True)
class Tile:
    """One page's part of a true-size drawing, measured from the drawing's left edge.

    ``joins_mm``: where this part is laid over its neighbours: in the middle of what both show.
    """

    start_mm: float
    width_mm: float
    joins_mm: tuple[float, ...]


def tiles(width_mm: float, room_mm: float) -> tuple[Tile, ...]:
    """Cut a drawing into parts no wider than the page, equal, each overlapping the next.

    Raises:
        ValueError: the page is no wider than the overlap.
    """
    if room_mm <= OVERLAP_MM:
        message = f"the page must leave more than {OVERLAP_MM:g} mm"
        raise ValueError(message)
    count = max(1, math.ceil((width_mm - OVERLAP_MM) / (room_mm - OVERLAP_MM) - 1e-9))
    each = (width_mm + (count - 1) * OVERLAP_MM) / count
    step = each - OVERLAP_MM
    joins = [step * n + OVERLAP_MM / 2 for n in range(1, count)]
    return tuple(
        Tile(step * n, each, tuple(join for join in joins if step * n < join < step * n + each)) for n in range(count)
    )
