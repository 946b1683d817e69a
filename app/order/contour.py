"""Contouring in words: what has to be bent, and between which holes."""

from collections.abc import Iterable
from typing import Protocol

from app.geometry import Layout

SEEN_FROM_DEG = 1.0  # a plate is not bent by less than this on purpose (common practice, no source)


class Bent(Protocol):
    """A bend between two neighbouring holes; positive turns the plate's ends away from the bone's axis."""

    @property
    def holes(self) -> tuple[int, int]:
        """Their numbers."""

    @property
    def angle_deg(self) -> float:
        """By how much the plate turns between them (degrees)."""


def bends_of(layout: Layout) -> tuple[Bent, ...]:
    """The bends that lay the plate on the bone; empty where the layout lists none."""
    found: tuple[Bent, ...] = getattr(layout, "bends", ())
    return found


def bend_words(bends: Iterable[Bent]) -> str:
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
    told = bend_words(bends_of(layout))
    where = f": {told}; between holes, never through a threaded one, and never back and forth" if told else ""
    return f"Contour the plate to the bone, {layout.contour_mm:.1f} mm over its {layout.plate_length_mm:.0f} mm{where}."
