"""All constructs of a case in one stand-alone drawing."""

from typing import TYPE_CHECKING

from app.drawing.palette import Theme
from app.drawing.sketch import contents, scene_of, view_box
from app.drawing.style import embedded
from app.drawing.svg import SVG, Attrs, Element, box, group, label, path, plain, style, title
from app.drawing.typeface import wrapped
from app.drawing.words import describe

if TYPE_CHECKING:
    from app.assess import Assessment

WIDTH = 1000.0
EDGE = 16.0
TITLE = 26.0
CAPTION = 15.0


def _lines(text: str, size: float, y: float) -> tuple[list[Element], float]:
    """Wrapped lines of text from ``y`` down, and where the next thing may begin."""
    found = wrapped(plain(text), size, WIDTH - 2 * EDGE)
    lines = [
        label(part, (EDGE, y + (i + 0.8) * size * 1.25), "caption", font_size=size) for i, part in enumerate(found)
    ]
    return lines, y + len(found) * size * 1.25


def draw_case(assessment: "Assessment", theme: Theme = "light") -> str:
    """Draw all constructs of a case, one under the other, under its title.

    Returns:
        A stand-alone ``<svg>`` document, 1000 units wide.
    """
    parts, y = _lines(assessment.case.title, TITLE, EDGE)
    for one in assessment.constructs:
        scene = scene_of(one, None, False, f"c{one.target}-")
        caption, y = _lines(describe(one), CAPTION, y + EDGE)
        height = WIDTH * scene.frame.height / scene.frame.width
        place: Attrs = {"x": 0.0, "y": y + EDGE / 2, "width": WIDTH, "height": height, **view_box(scene)}
        parts += [*caption, Element("svg", place, contents(scene))]
        y += height + EDGE
    sheet = path(box(0, 0, WIDTH, y), "sheet")
    attrs: Attrs = {
        "xmlns": SVG,
        "class": "drawing",
        "viewBox": f"0 0 {WIDTH:.0f} {y:.2f}",
        "role": "img",
        "aria-label": assessment.case.title,
    }
    sheets = [] if theme == "page" else [style(embedded(theme))]
    return Element("svg", attrs, [title(assessment.case.title), *sheets, group([sheet, *parts], {})]).tostring()
