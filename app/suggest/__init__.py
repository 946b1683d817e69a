"""What the program proposes: patterns to draw, layouts to start from, and what may be offered at all."""

from app.suggest.beginning import PATTERNS, Beginning, begin, begin_blank
from app.suggest.lag_place import LagPlace, lag_place, no_lag_place
from app.suggest.layouts import Suggestion, suggest, suggestions
from app.suggest.other_bone import on_other_bone
from app.suggest.patterns import blank_case, fitting, fitting_principles, pattern_edit
from app.suggest.proposals import accepted, can_be_shown, new_line, plate_of_holes, plate_of_series, wedge_on
from app.suggest.reach import Reach, Stop, stop_of

__all__ = [
    "PATTERNS",
    "Beginning",
    "LagPlace",
    "Reach",
    "Stop",
    "Suggestion",
    "accepted",
    "begin",
    "begin_blank",
    "blank_case",
    "can_be_shown",
    "fitting",
    "fitting_principles",
    "lag_place",
    "new_line",
    "no_lag_place",
    "on_other_bone",
    "pattern_edit",
    "plate_of_holes",
    "plate_of_series",
    "stop_of",
    "suggest",
    "suggestions",
    "wedge_on",
]
