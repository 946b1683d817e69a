"""The construct summary: figures per fragment and for the whole, centre to centre along the shaft, mm."""

from dataclasses import dataclass

from app.geometry.construct import Layout
from app.geometry.screws import ScrewPath

TRANSVERSE_BELOW_MM = 1.0  # a line that runs less than this along the shaft has no length to compare a plate with


@dataclass(frozen=True, slots=True)
class FragmentSummary:
    """Hold in one fragment.

    ``screws`` and ``cortices`` are those that tie it to the plate, a lag screw through the plate with the fragment that
    its thread grips. ``independent_lags`` stand beside the plate and grip this fragment. A lag screw says nothing of
    how far the plate's hold reaches: ``spread_mm`` and ``nearest_screw_mm`` (innermost screw to the nearest fracture
    face) are of the other screws.
    """

    name: str
    screws: int
    cortices: int
    independent_lags: int
    spread_mm: float
    nearest_screw_mm: float | None
    obtuse_at_plate: bool
    holes: int


@dataclass(frozen=True, slots=True)
class Summary:
    """Figures of one construct; None where the figure has no meaning (no screw on one side, a bare transverse line)."""

    fragments: tuple[FragmentSummary, ...]
    bridging_span_mm: float | None
    plate_length_mm: float
    plate_span_ratio: float | None
    screw_density: float
    holes_over_fracture: tuple[int, ...]
    travel_mm: float


def bridging_spans(layout: Layout) -> tuple[float | None, ...]:
    """For each fracture line the distance between the plate screws that flank it; lag screws bridge nothing."""
    index = {fragment.name: fragment.index for fragment in layout.fracture.fragments}
    placed = sorted(
        (index[screw.home], screw.s_mm)
        for screw in layout.screws
        if screw.hole is not None and screw.role != "lag" and screw.home in index
    )
    spans: list[float | None] = []
    for line in layout.fracture.lines:
        before = [s for fragment, s in placed if fragment <= line.index]
        behind = [s for fragment, s in placed if fragment > line.index]
        spans.append(min(behind) - max(before) if before and behind else None)
    return tuple(spans)


def total_travel(layout: Layout) -> float:
    """Travel of all eccentric screws together, mm."""
    return layout.series.travel_mm * sum(screw.role == "eccentric" for screw in layout.screws)


def _nearest(screws: tuple[ScrewPath, ...]) -> float | None:
    return min((screw.clear_of_fracture_mm for screw in screws), default=None)


def _fragment_summaries(layout: Layout) -> tuple[FragmentSummary, ...]:
    found = []
    for fragment in layout.fracture.fragments:
        screws = layout.screws_of(fragment.name)
        through = tuple(screw for screw in screws if screw.hole is not None)
        holding = tuple(screw for screw in through if screw.role != "lag")
        spread = holding[-1].s_mm - holding[0].s_mm if holding else 0.0
        found.append(
            FragmentSummary(
                name=fragment.name,
                screws=len(through),
                cortices=sum(p.holds and p.owner == fragment.name for screw in through for p in screw.passages),
                independent_lags=len(screws) - len(through),
                spread_mm=spread,
                nearest_screw_mm=_nearest(holding),
                obtuse_at_plate=fragment.obtuse_at_plate,
                holes=sum(hole.fragment == fragment.index for hole in layout.holes),
            )
        )
    return tuple(found)


def summarise(layout: Layout) -> Summary:
    """Work out the construct summary."""
    spans = [span for span in bridging_spans(layout) if span is not None]
    fracture = layout.fracture.length_mm
    filled = sum(hole.role != "empty" for hole in layout.construct.holes)
    return Summary(
        fragments=_fragment_summaries(layout),
        bridging_span_mm=max(spans) if len(spans) == len(layout.fracture.lines) else None,
        plate_length_mm=layout.plate_length_mm,
        plate_span_ratio=None if fracture < TRANSVERSE_BELOW_MM else layout.plate_length_mm / fracture,
        screw_density=filled / len(layout.construct.holes),
        holes_over_fracture=layout.holes_over_fracture,
        travel_mm=total_travel(layout),
    )
