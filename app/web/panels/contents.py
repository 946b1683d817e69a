"""What the panels of the sketch page hold, to be loaded at once: the list of cases, which comes first, needs none."""

from app.web.panels.mechanics import band_texts, change_texts, mechanics_view, of_same_bone
from app.web.panels.order import order_view
from app.web.panels.readings import readings_view, verdicts
from app.web.panels.screws import more_lags, screws_view
from app.web.panels.setup import blank_construct, setup_parts
from app.web.panels.summary import FRAGMENT_COLUMNS, summary_view

__all__ = [
    "FRAGMENT_COLUMNS",
    "band_texts",
    "blank_construct",
    "change_texts",
    "mechanics_view",
    "more_lags",
    "of_same_bone",
    "order_view",
    "readings_view",
    "screws_view",
    "setup_parts",
    "summary_view",
    "verdicts",
]
