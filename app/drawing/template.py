"""The bending template: the plate's underside seen edge-on, at true size, as a line to bend against."""

import math
from dataclasses import dataclass

from app.drawing.style import embedded
from app.drawing.svg import SVG, Attrs, Element, Point, group, label, path, run, style, title
from app.drawing.typeface import text_width
from app.geometry import Layout
from app.geometry.contouring import Contour, Underside, contour_of, underside

TOLD_FROM_DEG = 0.5  # less can't be told from straight on a plate by eye (common practice, no source)
TEXT_MM = 3.0  # 8.5 points
HEADING_MM, OVER_MM, UNDER_MM, NEXT_MM = (
    5.0,
    6.0,
    5.5,
    3.6,
)  # what stands over a line, under it, and under that
BAR_MM = 1.6  # from the underside up to the bars that show the holes


@dataclass(frozen=True, slots=True)
class Row:
    """One line of the template.

    ``angles`` (degrees, signed) are written at places on it, those of the pre-bend below the others.
    """

    line: Underside
    angles: tuple[tuple[Point, float], ...]
    prebends: tuple[tuple[Point, float], ...] = ()

    @property
    def under_mm(self) -> float:
        """What stands under the line, mm."""
        return UNDER_MM + (NEXT_MM if self.prebends else 0.0)

    @property
    def height_mm(self) -> float:
        """Height of the row, mm."""
        heights = [y for _, y in self.line.points]
        return OVER_MM + max(heights) - min(heights) + self.under_mm


def template_rows(layout: Layout, *, contoured: bool, prebent: bool) -> tuple[Row, ...]:
    """The lines to bend against, in the order in which they are: the contour, then with the pre-bend on top."""
    contour, rows = contour_of(layout), []
    if contoured:
        line = underside(layout)
        rows.append(Row(line, _angles(contour, line)))
    if prebent:
        line, start = underside(layout, prebent=True), layout.plate_ends_mm[0]
        own = tuple((_along(line, bend.s_mm - start), bend.angle_deg) for bend in contour.prebends)
        rows.append(Row(line, _angles(contour, line), own))
    return tuple(rows)


def _angles(contour: Contour, line: Underside) -> tuple[tuple[Point, float], ...]:
    pairs = zip(line.corners, (bend.angle_deg for bend in contour.bends), strict=True)
    return tuple((at, angle) for at, angle in pairs if abs(angle) >= TOLD_FROM_DEG)


def _along(line: Underside, way: float) -> Point:
    """The point so far along the line from its proximal end, mm."""
    for (x1, y1), (x2, y2) in zip(line.points, line.points[1:], strict=False):
        run_mm = math.hypot(x2 - x1, y2 - y1)
        if way <= run_mm + 1e-9:
            share = way / run_mm
            return x1 + share * (x2 - x1), y1 + share * (y2 - y1)
        way -= run_mm
    return line.points[-1]


def draw_template(layout: Layout, rows: tuple[Row, ...], left_mm: float, width_mm: float) -> str:
    """Draw the rows in a window along ``s``, so that the plate's middle stands where a drawing in it has it.

    Returns:
        An ``<svg>`` element as text, one unit 1 mm, in colours for print.
    """
    height = sum(row.height_mm for row in rows)
    parts, top = [], 0.0
    for row in rows:
        low = min(y for _, y in row.line.points)
        base = top + row.height_mm - row.under_mm + low  # the drawing height of the line's own y = 0
        parts.append(_row(layout, row, base))
        top += row.height_mm
    attrs: Attrs = {
        "xmlns": SVG,
        "viewBox": f"{left_mm:.2f} 0 {width_mm:.2f} {height:.2f}",
        "class": "drawing",
        "font-size": TEXT_MM,
    }
    return Element("svg", attrs, [title("Bending template"), style(embedded("print")), *parts]).tostring()


def _row(layout: Layout, row: Row, base: float) -> Element:
    middle = layout.construct.plate.centre_mm

    def at(point: Point, up: float = 0.0) -> Point:
        return middle + point[0], base - point[1] - up

    half = layout.series.slot_mm / 2
    parts = [path(run(at(point) for point in row.line.points), "line", width=0.35)]
    for place, hole in zip(layout.holes, row.line.holes, strict=True):
        along, up = _lean(row.line, hole)
        bar = [at((hole[0] + way * along, hole[1] + way * up), BAR_MM) for way in (-half, half)]
        parts += [
            path(run(bar), "fine", width=0.9),
            path(run([at(hole, -0.8), at(hole, BAR_MM)]), "line", width=0.25),
            label(str(place.number), at(hole, BAR_MM + 1.3), "number", text_anchor="middle"),
        ]
    for point, angle in row.angles:
        parts += _angle(at(point), angle, "", 0.0)
    for point, angle in row.prebends:
        parts += _angle(at(point), angle, "pre-bend ", NEXT_MM)
    return group(parts, {})


def _lean(line: Underside, hole: Point) -> Point:
    """The way the plate runs at a hole, as a step of 1 mm towards its distal end."""
    n = line.points.index(hole)
    (x1, y1), (x2, y2) = line.points[n - 1], line.points[n]  # the plate's end is a point before the first hole
    run_mm = math.hypot(x2 - x1, y2 - y1)
    return (x2 - x1) / run_mm, (y2 - y1) / run_mm


def _angle(at: Point, angle: float, words: str, lower: float) -> list[Element]:
    """An angle under its place on the line, marked there, with an arrow the way it turns the plate's ends."""
    x, y = at
    text = f"{words}{abs(angle):.1f}°"
    base, beside = y + TEXT_MM + 1.2 + lower, x + text_width(text, TEXT_MM) / 2 + 0.5
    top, foot = (base - 0.75 * TEXT_MM, base) if angle > 0 else (base, base - 0.75 * TEXT_MM)
    wing = top + math.copysign(0.9, foot - top)
    arrow = run([(beside, wing), (beside + 0.7, top), (beside + 1.4, wing)]) + run(
        [(beside + 0.7, top), (beside + 0.7, foot)]
    )
    return [
        path(run([(x, y - 0.6), (x, y + 1.2)]), "fine", width=0.25),
        label(text, (x, base), "", text_anchor="middle"),
        path(arrow, "line", width=0.3),
    ]
