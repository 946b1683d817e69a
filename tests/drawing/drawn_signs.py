"""Signs that the source of the typeface lacks, drawn in its stroke: used by ``new_typeface`` only."""

import math
from collections.abc import Callable

from fontTools.pens.ttGlyphPen import TTGlyphPen
from fontTools.ttLib import TTFont

Point = tuple[float, float]
Outline = list[Point]
MIDDLE = 345.0  # half the height of a capital
SAME_AS = {0x2010: 0x2D, 0x2011: 0x2D}  # hyphens
SPACES = {0x2009: 200, 0x200B: 0, 0x202F: 200}  # thin, zero-width, narrow no-break; thousandths
STEPS = 24


def _bar(start: Point, end: Point, stroke: float) -> Outline:
    """A stroke with square ends."""
    (x, y), (p, q) = start, end
    length = math.hypot(p - x, q - y)
    dx, dy = -(q - y) / length * stroke / 2, (p - x) / length * stroke / 2
    return [(x + dx, y + dy), (p + dx, q + dy), (p - dx, q - dy), (x - dx, y - dy)]


def _line(points: list[Point], stroke: float) -> Outline:
    """A bent stroke as one outline, with mitred corners."""
    left: Outline = []
    right: Outline = []
    for i, (x, y) in enumerate(points):
        ways = [(points[k], points[k + 1]) for k in (i - 1, i) if 0 <= k < len(points) - 1]
        units = [((q[0] - p[0]) / math.dist(p, q), (q[1] - p[1]) / math.dist(p, q)) for p, q in ways]
        nx, ny = -sum(u[1] for u in units), sum(u[0] for u in units)
        size = math.hypot(nx, ny)
        nx, ny = nx / size, ny / size
        reach = stroke / 2 / (nx * -units[0][1] + ny * units[0][0])
        left.append((x + nx * reach, y + ny * reach))
        right.append((x - nx * reach, y - ny * reach))
    return left + right[::-1]


def _arc(middle: Point, radius: float, start_deg: float, end_deg: float) -> list[Point]:
    turns = [math.radians(start_deg + (end_deg - start_deg) * i / STEPS) for i in range(STEPS + 1)]
    return [(middle[0] + radius * math.cos(t), middle[1] + radius * math.sin(t)) for t in turns]


def _back(stroke: float) -> list[Outline]:
    """A half circle over the top, its head at the left end, pointing down."""
    ring = _line(_arc((330, 215), 230, 0, 180), stroke)
    return [ring, [(100 - 135, 225), (100 + 135, 225), (100, 20)]]


def _forth(stroke: float) -> list[Outline]:
    return [[(660 - x, y) for x, y in outline] for outline in _back(stroke)]


def _check(stroke: float) -> list[Outline]:
    return [_line([(60, 300), (250, 90), (600, 640)], stroke)]


def _cross(stroke: float) -> list[Outline]:
    r = 235.0
    return [
        _bar((330 - r, MIDDLE - r), (330 + r, MIDDLE + r), stroke),
        _bar((330 - r, MIDDLE + r), (330 + r, MIDDLE - r), stroke),
    ]


def _diameter(stroke: float) -> list[Outline]:
    outer, inner = _arc((330, MIDDLE), 270, 360, 0), _arc((330, MIDDLE), 270 - stroke, 0, 360)
    return [outer[:-1], inner[:-1], _bar((330 - 290, MIDDLE - 290), (330 + 290, MIDDLE + 290), stroke * 0.8)]


def _square_on(stroke: float) -> list[Outline]:
    return [_bar((60, stroke / 2), (600, stroke / 2), stroke), _bar((330, 0), (330, 640), stroke)]


def _angle(stroke: float) -> list[Outline]:
    return [_line([(500, 560), (100, stroke / 2), (600, stroke / 2)], stroke)]


def _both_ways(stroke: float) -> list[Outline]:
    heads = [[(30, 300), (200, 420), (200, 180)], [(630, 300), (460, 180), (460, 420)]]
    return [*heads, _bar((150, 300), (510, 300), stroke)]


def _square(_: float) -> list[Outline]:
    return [[(60, 75), (60, 615), (600, 615), (600, 75)]]


def _disc(_: float) -> list[Outline]:
    return [_arc((330, MIDDLE), 260, 360, 0)[:-1]]


def _pointing(turn_deg: float) -> Callable[[float], list[Outline]]:
    turns = [math.radians(turn_deg - 120 * k) for k in range(3)]
    corners = [(330 + 310 * math.cos(t), MIDDLE + 310 * math.sin(t)) for t in turns]
    return lambda _: [corners]


def _prime(stroke: float) -> list[Outline]:
    return [_bar((300, 440), (370, 690), stroke)]


def _two_primes(stroke: float) -> list[Outline]:
    return [_bar((220, 440), (290, 690), stroke), _bar((380, 440), (450, 690), stroke)]


DRAWN: dict[str, Callable[[float], list[Outline]]] = {
    "′": _prime,
    "″": _two_primes,
    "↔": _both_ways,
    "↶": _back,
    "↷": _forth,
    "∠": _angle,
    "⊥": _square_on,
    "⌀": _diameter,
    "■": _square,
    "▲": _pointing(90),
    "▶": _pointing(0),
    "▼": _pointing(270),
    "◀": _pointing(180),
    "●": _disc,
    "✓": _check,
    "✕": _cross,
    "✗": _cross,
}


def _area(outline: Outline) -> float:
    return sum(a[0] * b[1] - b[0] * a[1] for a, b in zip(outline, [*outline[1:], outline[0]], strict=True)) / 2


def _put(font: TTFont, code: int, outlines: list[Outline], width: int) -> None:
    """One more glyph; outlines run clockwise as TrueType wants them, the inner one of a ring the other way."""
    name = f"uni{code:04X}"
    pen = TTGlyphPen(None)
    holes = {1} if code == ord("⌀") else set()
    for i, outline in enumerate(outlines):
        ordered = outline if (_area(outline) > 0) == (i in holes) else outline[::-1]
        pen.moveTo(ordered[0])
        for point in ordered[1:]:
            pen.lineTo(point)
        pen.closePath()
    font.setGlyphOrder([*font.getGlyphOrder(), name])
    font["glyf"][name] = pen.glyph()
    left = round(min((x for outline in outlines for x, _ in outline), default=0))
    font["hmtx"][name] = (width, left)
    for table in font["cmap"].tables:
        if table.isUnicode():
            table.cmap[code] = name


def draw_missing(font: TTFont, codes: list[int]) -> None:
    """Add what is wanted, missing, and can be drawn; strokes as thick as the face's own minus."""
    glyphs, cmap = font["glyf"], font.getBestCmap()
    minus = glyphs[cmap[0x2212]]
    stroke = float(minus.yMax - minus.yMin)
    for code in codes:
        if code in cmap:
            continue
        if code in SAME_AS:
            for table in font["cmap"].tables:
                table.cmap[code] = cmap[SAME_AS[code]]
        elif code in SPACES:
            _put(font, code, [], SPACES[code])
        elif chr(code) in DRAWN:
            _put(font, code, DRAWN[chr(code)](stroke), 660)
