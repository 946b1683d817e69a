"""Assessed constructs as SVG drawings."""

from app.drawing.palette import Theme
from app.drawing.scale import View, fitted_view
from app.drawing.sketch import draw_sketch

__all__ = ["Theme", "View", "draw_sketch", "fitted_view"]
