"""The one table of figures: what each is called, its unit and digits, which way is better, and how it is read."""

from itertools import chain
from typing import Any

from app.figures import construct, mechanics
from app.figures.figure import NONE, Better, Figure

TABLES: tuple[tuple[Figure[Any], ...], ...] = (
    construct.CHOSEN,
    construct.FRACTURE,
    construct.FRACTURE_LINE,
    construct.WHOLE,
    (construct.LAG_ANGLE,),
    construct.CONTOUR,
    construct.FRAGMENT,
    construct.SCREW,
    construct.WARNED,
    mechanics.LOAD,
    mechanics.UNDER,
    mechanics.STIFFNESS,
    mechanics.MOTION,
    (mechanics.OPENS,),
    mechanics.CONTACT,
    mechanics.PLATE,
    mechanics.SCREW_LOAD,
    mechanics.WORST,
)
FIGURES: dict[str, Figure[Any]] = {figure.id: figure for figure in chain.from_iterable(TABLES)}

__all__ = ["FIGURES", "NONE", "TABLES", "Better", "Figure"]
