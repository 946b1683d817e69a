"""The map of layouts as a picture: how many layouts lie where on two axes, what bounds them, and which are marked."""

import math
from dataclasses import dataclass
from typing import Literal

from app.drawing.svg import SVG, Element, Point, Written, num, run, style

WIDTH, HEIGHT = 430.0, 330.0
LEFT, RIGHT, TOP, BOTTOM = 58.0, 12.0, 26.0, 46.0
COLUMNS, ROWS = 36, 26
TEXT = 15.0
_NICE = (1.0, 2.0, 5.0, 10.0)
_MOST_TICKS = 5
# Print tells by size and depth alone.
ON_PAPER = """
text { font-family: "Fishplate Sans"; fill: #1c1c1c; }
.map-cell { fill: #8a8a8a; } .map-cell.passes { fill: #14456e; }
.map-axis, .map-edge { fill: none; stroke: #1c1c1c; stroke-width: 1.2; } .map-edge-dot { fill: #1c1c1c; }
.map-bound { fill: none; stroke: #6b6b6b; stroke-width: 1.2; stroke-dasharray: 5 4; }
.map-now { fill: none; stroke: #1c1c1c; stroke-width: 2.6; }
"""
MarkKind = Literal["now", "suggested", "whatif", "tried"]


@dataclass(frozen=True, slots=True)
class Scale:
    """One axis: what it is called, from where to where it goes, and whether it is logarithmic."""

    label: str
    low: float
    high: float
    log: bool

    def share(self, value: float) -> float:
        """Where a value lies along the axis, 0 to 1; beyond the ends at the ends."""
        low, high, at = self.low, self.high, value
        if self.log:
            low, high, at = math.log(low), math.log(high), math.log(max(value, 1e-300))
        return min(max((at - low) / (high - low), 0.0), 1.0)

    def ticks(self) -> list[float]:
        """Round values along the axis, few enough to be read."""
        if self.log and self.high / self.low > 4.0:
            first, last = math.floor(math.log10(self.low)), math.ceil(math.log10(self.high))
            for steps in ((1.0, 2.0, 5.0), (1.0, 3.0), (1.0,)):
                found = [m * 10.0**e for e in range(first, last + 1) for m in steps]
                inside = [value for value in found if self.low <= value <= self.high]
                if len(inside) <= _MOST_TICKS + 1:
                    return inside
            return inside[:: math.ceil(len(inside) / _MOST_TICKS)]
        raw = (self.high - self.low) / _MOST_TICKS
        size = 10.0 ** math.floor(math.log10(raw))
        step = next(n * size for n in _NICE if n * size >= raw - 1e-12)
        first = math.ceil(self.low / step - 1e-9)
        return [n * step for n in range(first, math.floor(self.high / step + 1e-9) + 1)]


@dataclass(frozen=True, slots=True)
class Cell:
    """Layouts that lie together: how many, how many of them pass the rules that count, and in words."""

    column: int
    row: int
    count: int
    passing: int
    words: str


@dataclass(frozen=True, slots=True)
class Bound:
    """A value on an axis at which something changes, and its name."""

    axis: Literal["x", "y"]
    value: float
    name: str


@dataclass(frozen=True, slots=True)
class Mark:
    """One layout that is told apart. ``letter`` stands in it."""

    kind: MarkKind
    x: float
    y: float
    letter: str
    words: str


@dataclass(frozen=True, slots=True)
class MapPicture:
    """What is drawn; ``edge`` goes through the layouts that none betters."""

    x: Scale
    y: Scale
    cells: tuple[Cell, ...]
    bounds: tuple[Bound, ...]
    edge: tuple[Point, ...]
    marks: tuple[Mark, ...]
    words: str


def draw_layout_map(picture: MapPicture, *, printed: bool = False, name: str = "layout-map-picture") -> str:
    """The picture as an ``<svg>`` of that ``name``; its colours come from the page, or are those for print."""
    parts = [*_bounds(picture), *_cells(picture), *_axes(picture), *_edge(picture), *_marks(picture)]
    attrs: dict[str, str | float | None] = {
        "xmlns": SVG if printed else None,
        "class": "layout-map-picture",
        "id": name or None,
        "viewBox": f"0 0 {num(WIDTH)} {num(HEIGHT)}",
        "role": "img",
        "aria-label": picture.words,
    }
    return Element("svg", attrs, [style(ON_PAPER), *parts] if printed else parts).tostring()


def _place(picture: MapPicture, x: float, y: float) -> Point:
    width, height = WIDTH - LEFT - RIGHT, HEIGHT - TOP - BOTTOM
    return LEFT + width * picture.x.share(x), HEIGHT - BOTTOM - height * picture.y.share(y)


def _text(words: str, at: Point, class_: str, anchor: str = "start") -> Element:
    attrs: dict[str, str | float | None] = {
        "x": at[0], "y": at[1], "class": class_, "text-anchor": anchor, "font-size": TEXT,
    }  # fmt: skip
    return Element("text", attrs, text=words)


def _cells(picture: MapPicture) -> list[Element]:
    """Each cell as a square, the darker the more layouts; smaller where none of them passes."""
    wide, high = (WIDTH - LEFT - RIGHT) / COLUMNS, (HEIGHT - TOP - BOTTOM) / ROWS
    most = math.log1p(max((cell.count for cell in picture.cells), default=1))
    drawn = []
    for cell in picture.cells:  # hundreds, of numbers and words without signs to escape
        size = 0.94 if cell.passing else 0.5
        x = LEFT + wide * (cell.column + (1.0 - size) / 2.0)
        y = HEIGHT - BOTTOM - high * (cell.row + (1.0 + size) / 2.0)
        kind = "map-cell passes" if cell.passing else "map-cell"
        drawn.append(
            f'<rect x="{x:.2f}" y="{y:.2f}" width="{wide * size:.2f}" height="{high * size:.2f}" class="{kind}" '
            f'fill-opacity="{0.35 + 0.65 * math.log1p(cell.count) / most:.2f}" '
            f'data-cell="{cell.column},{cell.row}" data-words="{cell.words}"/>'
        )
    return [Written.of("".join(drawn))]


def _axes(picture: MapPicture) -> list[Element]:
    base, end, top = HEIGHT - BOTTOM, WIDTH - RIGHT, TOP
    drawn = [Element("path", {"class": "map-axis", "d": run([(LEFT, top), (LEFT, base), (end, base)])})]
    for value in picture.x.ticks():
        x, _ = _place(picture, value, picture.y.low)
        drawn.append(Element("path", {"class": "map-axis", "d": run([(x, base), (x, base + 5.0)])}))
        drawn.append(_text(f"{value:,.5g}", (x, base + 20.0), "map-number", "middle"))
    for value in picture.y.ticks():
        _, y = _place(picture, picture.x.low, value)
        drawn.append(Element("path", {"class": "map-axis", "d": run([(LEFT - 5.0, y), (LEFT, y)])}))
        drawn.append(_text(f"{value:,.5g}", (LEFT - 9.0, y + 5.0), "map-number", "end"))
    drawn.append(_text(picture.x.label, ((LEFT + end) / 2.0, HEIGHT - 6.0), "map-name", "middle"))
    drawn.append(_text(picture.y.label, (4.0, 15.0), "map-name"))
    return drawn


def _bounds(picture: MapPicture) -> list[Element]:
    drawn = []
    for bound in picture.bounds:
        scale = picture.x if bound.axis == "x" else picture.y
        if not scale.low < bound.value < scale.high:
            continue
        if bound.axis == "x":
            x, _ = _place(picture, bound.value, picture.y.low)
            line: list[Point] = [(x, TOP), (x, HEIGHT - BOTTOM)]
            name = _text(bound.name, (x - 4.0, TOP + 13.0), "map-bound-name", "end")
        else:
            _, y = _place(picture, picture.x.low, bound.value)
            line = [(LEFT, y), (WIDTH - RIGHT, y)]
            name = _text(bound.name, (WIDTH - RIGHT - 4.0, y - 5.0), "map-bound-name", "end")
        drawn += [Element("path", {"class": "map-bound", "d": run(line)}), name]
    return drawn


def _edge(picture: MapPicture) -> list[Element]:
    if len(picture.edge) < 2:
        return []
    line = [_place(picture, x, y) for x, y in picture.edge]
    dots = [Element("circle", {"class": "map-edge-dot", "cx": x, "cy": y, "r": 3.0}) for x, y in line]
    return [Element("path", {"class": "map-edge", "d": run(line)}), *dots]


def _marks(picture: MapPicture) -> list[Element]:
    """Present: a ring with a cross; suggested: a diamond; what-ifs: a square with a letter."""
    drawn = []
    for mark in picture.marks:
        x, y = _place(picture, mark.x, mark.y)
        if mark.kind == "now":
            cross = [*_line((x - 14, y), (x - 4, y)), *_line((x + 4, y), (x + 14, y))]
            cross += [*_line((x, y - 14), (x, y - 4)), *_line((x, y + 4), (x, y + 14))]
            ring = Element("circle", {"class": "map-now", "cx": x, "cy": y, "r": 8.0})
            shape = [ring, *cross]
        elif mark.kind == "suggested":
            points = [(x, y - 9), (x + 9, y), (x, y + 9), (x - 9, y), (x, y - 9)]
            shape = [Element("path", {"class": "map-suggested", "d": run(points)})]
        else:
            box: dict[str, str | float | None] = {"x": x - 9, "y": y - 9, "width": 18.0, "height": 18.0}
            square = Element("rect", {"class": "map-whatif", **box})
            shape = [square, _text(mark.letter, (x, y + 5.0), "map-letter", "middle")]
        drawn.append(Element("g", {"class": "map-mark", "data-mark": mark.kind, "data-words": mark.words}, shape))
    return drawn


def _line(one: Point, other: Point) -> list[Element]:
    return [Element("path", {"class": "map-now", "d": run([one, other])})]
