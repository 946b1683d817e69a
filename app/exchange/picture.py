"""A stand-alone drawing as PNG, by the typesetter's own renderer: no library of the system is needed."""

from functools import lru_cache

import typst

from app.drawing.typeface import has_signs
from app.sheet.figure import figure
from app.shipped import typefaces

LEAST_PX, MOST_PX = 16, 8192
MOST_HEIGHT_PX = 16384
PT_PER_INCH = 72
PAGE_PT = 720.0
PAGE = """#set page(width: {width}pt, height: {height}pt, margin: 0pt, fill: none)
#image(bytes(sys.inputs.svg), format: "svg", width: 100%, height: 100%, fit: "stretch")"""


def drawing_png(svg: str, width_px: int) -> bytes:
    """Paint a stand-alone drawing (theme ``light``, ``dark`` or ``print``); the height follows from its window.

    Raises:
        ValueError: not 16 to 8192 pixels wide, higher than 16384 pixels, or not a drawing.
    """
    if not LEAST_PX <= width_px <= MOST_PX:
        message = f"the picture must be {LEAST_PX} to {MOST_PX} pixels wide"
        raise ValueError(message)
    shown = figure(svg)
    height_px = round(width_px * shown.height_mm / shown.width_mm)
    if not 1 <= height_px <= MOST_HEIGHT_PX:
        message = f"the picture would be {height_px} pixels high; at most {MOST_HEIGHT_PX}"
        raise ValueError(message)
    page = PAGE.format(width=PAGE_PT, height=PAGE_PT * height_px / width_px)
    return _painted(page, shown.svg, ppi=width_px / PAGE_PT * PT_PER_INCH)


def _painted(page: str, svg: str, ppi: float) -> bytes:
    fonts = _fonts(not has_signs(svg))
    try:
        made = typst.compile(page.encode(), format="png", ppi=ppi, font_paths=fonts, sys_inputs={"svg": svg})
    except typst.TypstError as error:
        message = f"not a drawing that can be painted: {error}"
        raise ValueError(message) from error
    if not isinstance(made, bytes):
        message = f"the typesetter gave {type(made).__name__}, not a picture"
        raise TypeError(message)
    return made


@lru_cache(maxsize=2)
def _fonts(system: bool) -> typst.Fonts:
    """The shipped face, so that a picture looks the same everywhere; the machine's fonts where it lacks a script."""
    return typst.Fonts(include_system_fonts=system, include_embedded_fonts=True, font_paths=[typefaces()])
