"""What the program proposes: patterns to draw, layouts to start from, and what may be offered at all."""

from app.suggest.layouts import Suggestion, suggest, suggestions
from app.suggest.patterns import blank_case, fitting_principles, pattern_edit
from app.suggest.proposals import accepted

__all__ = ["Suggestion", "accepted", "blank_case", "fitting_principles", "pattern_edit", "suggest", "suggestions"]
