"""Single layouts over what nobody knows before theatre: each in every draw, so that two are compared draw by draw."""

import numpy as np

from app.catalogue.unknowns import DRAWS
from app.mechanics.bands import solved
from app.mechanics.layouts.answers import NAMES, figures_of
from app.mechanics.layouts.solve import with_layout
from app.mechanics.model import Construct
from app.mechanics.sections import Array


def in_draws(construct: Construct, holes: tuple[int, ...], numbers: tuple[int, ...]) -> Array:
    """The figures `NAMES` of some layouts of a construct with every screw; shape (layouts, draws, figures).

    NaN where a layout holds nothing, or lacks a figure.
    """
    out = np.full((len(numbers), DRAWS, len(NAMES)), np.nan)
    for row, number in enumerate(numbers):
        for draw, result in enumerate(solved(with_layout(construct, holes, number))):
            found = figures_of(result)
            out[row, draw] = [found[name] for name in NAMES]
    return out
