"""Contouring in words: what has to be bent, and between which holes."""

from collections.abc import Iterable

from app.geometry import Bend, Layout

SEEN_FROM_DEG = 2.0  # smaller bends are within what a plate gives under its screws (common practice, no source)


def bend_words(bends: Iterable[Bend]) -> str:
    """Bends worth making, in words, as the end of a sentence; empty if there is none."""
    told = [
        f"{abs(bend.angle_deg):.0f}° {'away from' if bend.angle_deg > 0 else 'towards'} the bone between holes "
        f"{bend.holes[0]} and {bend.holes[1]}"
        for bend in bends
        if abs(bend.angle_deg) >= SEEN_FROM_DEG
    ]
    return ", ".join(told)


def contour_words(layout: Layout) -> str:
    """The contouring step in words."""
    told = bend_words(layout.bends)
    bent = f" {told};" if told else " evenly, no two neighbouring holes by more than 2°;"
    return (
        f"Contour the plate to the bone, {layout.contour_mm:.1f} mm over its {layout.plate_length_mm:.0f} mm:{bent} "
        "between holes, never through a threaded one, and never back and forth."
    )
