"""The construct summary as rows of figures, each with what it was before."""

from dataclasses import dataclass

from app.assess import ConstructAssessment
from app.geometry import FragmentSummary


@dataclass(frozen=True, slots=True)
class Figure:
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
    figures: tuple[Figure, ...]


@dataclass(frozen=True, slots=True)
class SummaryView:
    """What the summary panel shows."""

    fragments: tuple[FragmentRow, ...]
    whole: tuple[Figure, ...]


FRAGMENT_COLUMNS = ("Screws", "Cortices", "Spread, mm", "Nearest screw, mm")


def _mm(value: float | None) -> str:
    return "–" if value is None else f"{value:.1f} mm"


def _fragment_figures(fragment: FragmentSummary) -> tuple[Figure, ...]:
    nearest = fragment.nearest_screw_mm
    texts = (
        str(fragment.screws),
        str(fragment.cortices),
        f"{fragment.spread_mm:.1f}",
        "–" if nearest is None else f"{nearest:.1f}",
    )
    keys = ("screws", "cortices", "spread", "nearest")
    return tuple(
        Figure(f"{key}-{fragment.name}", column, text)
        for key, column, text in zip(keys, FRAGMENT_COLUMNS, texts, strict=True)
    )


def _angles(one: ConstructAssessment) -> str:
    told = [
        f"{screw.id} {screw.angle_to_normal_deg:.0f}°"
        for screw in one.layout.screws
        if screw.role == "lag" and screw.angle_to_normal_deg is not None
    ]
    return ", ".join(told) or "–"


def _whole(one: ConstructAssessment) -> tuple[Figure, ...]:
    summary = one.summary
    ratio = "–" if summary.plate_span_ratio is None else f"{summary.plate_span_ratio:.1f}"
    filled = sum(hole.role != "empty" for hole in one.construct.holes)
    over = ", ".join(map(str, summary.holes_over_fracture)) or "none"
    return (
        Figure("bridging-span", "Bridging span", _mm(summary.bridging_span_mm)),
        Figure("plate-length", "Plate length", _mm(summary.plate_length_mm)),
        Figure("plate-span-ratio", "Plate span ratio", ratio),
        Figure(
            "screw-density", "Screw density", f"{summary.screw_density:.2f} ({filled} of {len(one.construct.holes)})"
        ),
        Figure("holes-over-fracture", "Holes over fracture", over),
        Figure("travel", "Travel", _mm(summary.travel_mm)),
        Figure("lag-angle", "Lag to fracture normal", _angles(one)),
    )


def with_was(figures: tuple[Figure, ...], before: dict[str, str]) -> tuple[Figure, ...]:
    """The figures, each with its text in ``before`` where that was another."""
    return tuple(
        Figure(one.id, one.label, one.text, before[one.id] if before.get(one.id, one.text) != one.text else None)
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
