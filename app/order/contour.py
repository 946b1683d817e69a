"""Contouring in words: what has to be bent, and between which holes."""

from collections.abc import Iterable

from app.geometry import Bend, Layout, contour_of
from app.geometry.bends import Overhang

SEEN_FROM_DEG = 2.0  # smaller bends are within what a plate gives under its screws (common practice, no source)


def way(angle_deg: float) -> str:
    """Which way a bend turns the plate's ends."""
    return "away from" if angle_deg > 0 else "towards"


def bend_words(bends: Iterable[Bend]) -> str:
    """Bends worth making, in words, as the end of a sentence; empty if there is none."""
    told, said = [], ""
    for bend in bends:
        if abs(bend.angle_deg) < SEEN_FROM_DEG:
            continue
        here = way(bend.angle_deg)
        told.append(
            f"{abs(bend.angle_deg):.0f}°{'' if here == said else f' {here} the bone'} between {_pair(bend, said)}"
        )
        said = here
    return ", ".join(told)


def _pair(bend: Bend, said: str) -> str:
    return f"{'' if said else 'holes '}{bend.holes[0]} and {bend.holes[1]}"


def contour_words(layout: Layout) -> str:
    """The contouring step in words; its bends are told beside it."""
    return (
        f"Contour the plate to the bone, {layout.contour_mm:.1f} mm over its {layout.plate_length_mm:.0f} mm: "
        f"{_never(layout)}.{_across(layout)}"
    )


def _never(layout: Layout) -> str:
    """Where it is not bent, and how (common practice; at locking holes see the rule on contouring)."""
    through = "never through a threaded one" if layout.series.locking_screw else "not through one"
    return f"between holes, {through}, and never back and forth"


def _across(layout: Layout) -> str:
    where = edge_words(layout)
    return f" This does not mend that it leaves the bone's edge {where}." if where else ""


def edge_words(layout: Layout) -> str:
    """By how much a straight plate leaves the bone's edge, and where, as the end of a sentence; empty if nowhere."""
    seen = [one for one in layout.across.overhangs if round(one.over_mm, 1) > 0]
    return ", ".join(f"by {one.over_mm:.1f} mm at {_at(layout, one)}" for one in seen)


def _at(layout: Layout, one: Overhang) -> str:
    numbers = [hole.number for hole in layout.holes if one.start_mm <= hole.s_mm <= one.end_mm]
    if len(numbers) > 1:
        return f"holes {numbers[0]} to {numbers[-1]}"
    if numbers:
        return f"hole {numbers[0]}"
    first, last = layout.holes[0], layout.holes[-1]
    if one.end_mm < first.s_mm or one.start_mm > last.s_mm:
        return f"the plate's {'proximal' if one.end_mm < first.s_mm else 'distal'} end"
    before = max(hole.number for hole in layout.holes if hole.s_mm < one.start_mm)
    return f"holes {before} and {before + 1}"


def prebend_words(layout: Layout) -> str:
    """The pre-bend as an angle on top of the contour, in brackets."""
    told = [
        f"{'–'.join(map(str, bend.holes))}: {abs(bend.angle_deg):.1f}° on top" for bend in contour_of(layout).prebends
    ]
    return f" (hole{'s' if len(told) > 1 or '–' in told[0] else ''} {', '.join(told)})"
