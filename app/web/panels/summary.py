"""The construct summary as rows of figures, each with what it was before."""

from collections import Counter
from dataclasses import dataclass

from app.assess import ConstructAssessment
from app.figures.construct import BENT, HOLD, LAG_ANGLE, LAGS_BESIDE, PLATE_LENGTH, SCREW_DENSITY, WHOLE
from app.geometry import FragmentSummary


@dataclass(frozen=True, slots=True)
class ShownFigure:
    """One figure: ``id`` is stable, ``was`` the text before a screw was left out, if that changed it."""

    id: str
    label: str
    text: str
    was: str | None = None


@dataclass(frozen=True, slots=True)
class FragmentRow:
    """One fragment's figures, in the order of ``FRAGMENT_COLUMNS``."""

    name: str
    obtuse: bool
    figures: tuple[ShownFigure, ...]


@dataclass(frozen=True, slots=True)
class SummaryView:
    """What the summary panel shows."""

    fragments: tuple[FragmentRow, ...]
    whole: tuple[ShownFigure, ...]


FRAGMENT_COLUMNS = tuple(figure.heading for figure in HOLD)


def _fragment_figures(fragment: FragmentSummary) -> tuple[ShownFigure, ...]:
    return tuple(ShownFigure(f"{figure.id}-{fragment.name}", figure.heading, figure.text(fragment)) for figure in HOLD)


def _whole(one: ConstructAssessment) -> tuple[ShownFigure, ...]:
    filled = sum(hole.role != "empty" for hole in one.construct.holes)
    counted = {
        SCREW_DENSITY.id: f" ({filled} of {len(one.construct.holes)})",
        PLATE_LENGTH.id: f" (bends {BENT.text(one.layout)}°)",
    }
    grips = Counter(screw.home or "fracture" for screw in one.layout.screws if screw.hole is None)
    beside = ", ".join(f"{count} in the {home}" for home, count in grips.items())
    return (
        *(
            ShownFigure(figure.id, figure.label, figure.told(one.summary) + counted.get(figure.id, ""))
            for figure in WHOLE
        ),
        # they tie no fragment to the plate, so that they are told apart from the screws above
        ShownFigure(LAGS_BESIDE.id, "Independent lag screws", beside or "none"),
        ShownFigure(LAG_ANGLE.id, LAG_ANGLE.label, LAG_ANGLE.told(one.layout)),
    )


def with_was(figures: tuple[ShownFigure, ...], before: dict[str, str]) -> tuple[ShownFigure, ...]:
    """The figures, each with its text in ``before`` where that was another."""
    return tuple(
        ShownFigure(one.id, one.label, one.text, before[one.id] if before.get(one.id, one.text) != one.text else None)
        for one in figures
    )


def summary_view(one: ConstructAssessment, before: ConstructAssessment | None = None) -> SummaryView:
    """All figures of one construct; those that differ from ``before`` say what they were."""
    old = {} if before is None else texts_of(before)
    fragments = tuple(
        FragmentRow(fragment.name, fragment.obtuse_at_plate, with_was(_fragment_figures(fragment), old))
        for fragment in one.summary.fragments
    )
    return SummaryView(fragments, with_was(_whole(one), old))


def texts_of(one: ConstructAssessment) -> dict[str, str]:
    """Text of every figure by its id."""
    rows = [figure for fragment in one.summary.fragments for figure in _fragment_figures(fragment)]
    return {figure.id: figure.text for figure in (*rows, *_whole(one))}
