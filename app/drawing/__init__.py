"""Assessed constructs as SVG drawings."""

from app.drawing.legend import Sign, legend
from app.drawing.palette import Theme
from app.drawing.scale import Room, View, fitted_view
from app.drawing.sketch import draw_sketch
from app.drawing.stepping import draw_state
from app.drawing.template import draw_template, template_rows
from app.drawing.thumbnail import draw_icon, draw_plate_icon, draw_thumbnail
from app.drawing.typeface import with_typeface
from app.drawing.whole import draw_case

__all__ = [
    "Room",
    "Sign",
    "Theme",
    "View",
    "draw_case",
    "draw_icon",
    "draw_plate_icon",
    "draw_sketch",
    "draw_state",
    "draw_template",
    "draw_thumbnail",
    "fitted_view",
    "legend",
    "template_rows",
    "with_typeface",
]
