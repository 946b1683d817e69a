"""The command that sets sheets: its options, as what the sheet takes."""

from functools import partial
from typing import TYPE_CHECKING

from app.assess import drawn_from
from app.sheet.sheet import Paper, plan_sheet

if TYPE_CHECKING:
    from app.assess import Assessment, Knowledge


def sheet_of(assessment: "Assessment", knowledge: "Knowledge", paper: Paper, mapped: bool) -> bytes:
    """The sheet of a case as PDF, with bands, and with the map of layouts if that is wanted."""
    from app.map_picture import small_map  # the solver of all layouts loads when a map is asked for

    return plan_sheet(
        assessment,
        knowledge.catalogue,
        paper=paper,
        drawn=drawn_from(knowledge.catalogue),
        mapped=partial(small_map, assessment, knowledge=knowledge) if mapped else None,
    )
