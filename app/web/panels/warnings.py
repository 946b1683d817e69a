"""The warnings panel: those left open, and folded beneath them the notes that were put away."""

from dataclasses import dataclass

from app import rules
from app.assess import Assessment, ConstructAssessment
from app.case.edits import Acknowledge


@dataclass(frozen=True, slots=True)
class WarningRow:
    """One warning.

    ``pending``: whether it may have a remedy that nobody has looked for yet. ``change`` puts a note away or brings it
    back; None for the graver ones, which can't be put away.
    """

    warning: rules.Warning
    change: Acknowledge | None
    pending: bool


@dataclass(frozen=True, slots=True)
class WarningsView:
    """What the panel shows: the rows in the order of the assessment, the construct's before the whole case's."""

    open: tuple[WarningRow, ...]
    noted: tuple[WarningRow, ...]


def warnings_of(assessment: Assessment, one: ConstructAssessment) -> tuple[rules.Warning, ...]:
    """Those of the construct, then those of the case as a whole."""
    return (*one.warnings, *assessment.warnings)


def warnings_view(assessment: Assessment, one: ConstructAssessment) -> WarningsView:
    """The warnings on one construct, and those on the case as a whole."""
    pending = not assessment.remedies
    rows = (*_rows(one.warnings, one.target, pending), *_rows(assessment.warnings, None, pending))
    return WarningsView(
        tuple(row for row in rows if not row.warning.acknowledged),
        tuple(row for row in rows if row.warning.acknowledged),
    )


def _rows(warnings: tuple[rules.Warning, ...], target: int | None, pending: bool) -> tuple[WarningRow, ...]:
    return tuple(_row(warning, target, pending) for warning in warnings)


def _row(warning: rules.Warning, target: int | None, pending: bool) -> WarningRow:
    if warning.level != "note":
        return WarningRow(warning, None, pending)
    about = rules.subject_of(warning)
    change = Acknowledge(rule=warning.rule, subject=about, target=target, put_away=not warning.acknowledged)
    return WarningRow(warning, change, pending=False)
