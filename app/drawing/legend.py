"""What the letters, signs and lines of a drawing mean: each drawn as the drawing draws it, with its words."""

from dataclasses import dataclass
from functools import lru_cache

from app.case.roles import ROLE
from app.drawing.flags import symbols
from app.drawing.fracture import shards
from app.drawing.handles import KNOB_U, diamond
from app.drawing.holes import head_shapes
from app.drawing.palette import Theme
from app.drawing.style import embedded
from app.drawing.svg import SVG, Attrs, Element, box, disc, group, label, loop, path, run, style
from app.geometry import Line

HALF = 12.0  # of a sign's square, in its own units
SAYS = {
    "neutral": "pressed straight down on the plate",
    "eccentric": "moves its fragment the way the arrow points as its head sinks in",
    "lag": "glides in the near fragment, grips the far one",
    "locking-2": "fixed in the plate, held by both cortices",
    "locking-1": "fixed in the plate, held by the near cortex only",
}


@dataclass(frozen=True, slots=True)
class Sign:
    """One sign: a drawing of it, without words, and its words."""

    id: str
    svg: str
    words: str


@lru_cache(maxsize=4)
def legend(theme: Theme = "page") -> tuple[Sign, ...]:
    """All signs, holes first.

    Args:
        theme: as of a drawing; with ``page`` the colours are the page's style sheet's.
    """
    parts: list[tuple[str, list[Element], str]] = [
        ("empty", [path(disc((0, 0), 7), "hole-opening", width=1.4)], "hole left empty"),
        *((role, _screw(role), f"{ROLE[role].screw}: {says}") for role, says in SAYS.items()),
        (
            "line",
            [path(run([(-7, -11), (7, 11)]), "fracture", width=3)],
            "fracture line; in the face view the near cortex",
        ),
        (
            "spiral",
            _spiral(),
            "spiral fracture, winding round the shaft; the thick line in the profile is the plane nearest to it",
        ),
        ("far", _dashed(), "fracture in the far cortex, or hidden by the plate"),
        ("zone", _zone(), "zone without load-bearing bone"),
        ("axis", _axis(), "axis of the shaft"),
        *((level, _mark(level), words) for level, words in _LEVELS.items()),
        ("grip", [path(disc((0, 0), KNOB_U), "knob", width=2.2)], "turn or lean: drag it"),
        ("slide", [path(diamond((0, 0), 11), "knob", width=2)], "move: drag it"),
        ("widen", [path(box(-6, -6, 12, 12), "knob", width=2)], "open a zone without load-bearing bone: drag it"),
        ("stress", _stress(), "stress along the plate; dashed: the metal’s strengths"),
    ]
    return tuple(Sign(id_, _drawn(shapes, theme), words) for id_, shapes, words in parts)


_LEVELS = {
    "stop": "stop: it will not do what it claims",
    "caution": "caution: known to fail more often",
    "note": "note: worth knowing",
}


def _screw(role: str) -> list[Element]:
    shapes = head_shapes(role, (-4, 0), 7, 1, 1)
    if role.startswith("locking"):
        shapes.append(path(box(4.5, -5.5, 8, 11), "line", width=1))
    return [*shapes, label(ROLE[role].letter, (8.5, 3.6), "letter", text_anchor="middle")]


def _dashed() -> list[Element]:
    return [path(run([(0, -11), (0, 11)]), "fracture", width=1.6, stroke_dasharray="5 4")]


def _spiral() -> list[Element]:
    before, behind = [(-9, -7), (-3, -3), (3, 3), (9, 7)], [(-9, -7), (-11, 0), (11, 0), (9, 7)]
    return [
        path(run(behind), "fracture", width=1.2, stroke_dasharray="3 2.5"),
        path(run(before), "fracture", width=1.8),
    ]


def _zone() -> list[Element]:
    line = Line(0, 0.0, 0.0, 14.0, 14.0, 20.0, 0.0, breadth_mm=20.0)
    faces = run([(-7, -11), (-7, 11)]) + run([(7, -11), (7, 11)])
    return [path(shards(line, 0.0, 10.0, False), "shard", width=0.9), path(faces, "fracture", width=2.4)]


def _axis() -> list[Element]:
    return [path(run([(-12, 0), (12, 0)]), "axis", width=1.2, stroke_dasharray="9 3 2 3")]


def _mark(level: str) -> list[Element]:
    return [symbols(0.9, "legend-")[list(_LEVELS).index(level)]]


def _stress() -> list[Element]:
    area = loop([(-11, 9), (-11, 4), (-3, -3), (3, -3), (11, 4), (11, 9)])
    return [
        path(area, "stress", width=1.6),
        path(run([(-12, -8), (12, -8)]), "limit", width=1.4, stroke_dasharray="4 3"),
    ]


def _drawn(shapes: list[Element], theme: Theme) -> str:
    attrs: Attrs = {
        "xmlns": SVG,
        "class": "drawing sign",
        "viewBox": f"{-HALF - 1:g} {-HALF - 1:g} {2 * HALF + 2:g} {2 * HALF + 2:g}",
        "font-size": "10",
        "aria-hidden": "true",
        "focusable": "false",
    }
    head_ = [] if theme == "page" else [style(embedded(theme))]
    return Element("svg", attrs, [*head_, group(shapes, {})]).tostring()
