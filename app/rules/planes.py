"""Planes about the shaft in which an independent lag screw may lie, and the construct as each of them shows it."""

import math
from collections.abc import Iterator
from dataclasses import replace

from app.geometry import Layout, Line, ScrewPath
from app.geometry.fracture import turned_fracture
from app.geometry.profile import turned_shape
from app.rules.registry import RuleInput

# Off the plane in which the line shows all of its obliquity; further off, no screw stands square to it by 20°.
OFFS_DEG = (0.0, 5.0, -5.0, 10.0, -10.0, 15.0, -15.0)
FARTHEST_DEG = 90.0  # beyond, the screw would enter from behind, through another approach


def planes_for(line: Line) -> tuple[float, ...]:
    """The planes worth a search, the profile first: there the screw enters close beside the plate."""
    if line.across == 0:
        return (0.0,)
    found = [round(line.turn_deg + off, 1) for off in OFFS_DEG]
    return (0.0, *(turn for turn in found if 0 < abs(turn) <= FARTHEST_DEG))


def _cut(layout: Layout, turn_deg: float) -> Layout:
    shape = turned_shape(layout.shape, turn_deg)
    return replace(layout, shape=shape, fracture=turned_fracture(layout.fracture, shape, turn_deg))


def seen_in(judged: RuleInput, turn_deg: float) -> RuleInput:
    """The construct cut by a plane about the shaft: bone and fracture as that plane shows them, screws as they are."""
    return judged if turn_deg == 0 else replace(judged, layout=_cut(judged.layout, turn_deg))


def views_for(judged: RuleInput, line: Line) -> Iterator[tuple[float, RuleInput, Line]]:
    """Each plane worth a search: its turn, the construct in it, and the line as it shows there."""
    for turn in planes_for(line):
        view = seen_in(judged, turn)
        yield turn, view, view.layout.fracture.lines[line.index]


def under_plate_mm(layout: Layout, screw: ScrewPath) -> float:
    """By how much the head of a turned lag screw would reach into the plate (mm); 0 or less where it is clear of it.

    The head is taken as a ball about the place where the screw enters, the plate as a flat slab on the bone.
    """
    if screw.hole is not None or screw.turn_deg == 0:
        return 0.0
    s, y, z = screw.at(screw.passages[0].entry)
    low, high = layout.plate_ends_mm
    profile = layout.shape.cut_from or layout.shape
    below = profile.near(min(max(s, low), high)) + layout.construct.plate.standoff_mm - y
    beside, beyond = abs(z) - layout.series.width_mm / 2, max(low - s, s - high)
    return screw.spec.head_mm / 2 - math.hypot(*(max(0.0, away) for away in (below, beside, beyond)))
