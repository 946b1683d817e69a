"""The card on which a new case begins: four questions, each choice with a small drawing, and what became of them."""

from dataclasses import dataclass
from typing import get_args

from app.assess import Knowledge
from app.case.models import Principle
from app.drawing import View, draw_icon, draw_plate_icon
from app.geometry import lay_out
from app.suggest import PATTERNS, Beginning, begin_blank, fitting
from app.suggest.beginning import Pattern
from app.web.panels.samples import ShownSample
from app.web.templates import drawn

AROUND_MM = 150.0  # of the bone that a pattern is drawn on
PATTERNS_ON = "humerus"  # has every group
PLATE_HOLES = 6

# What a new case is called in its history, and what its page says of it at first.
LAID_OUT = "New case, laid out"
WITH_WARNINGS = "New case, laid out with warnings"
OTHERWISE = "New case, laid out for another principle"
NOT_LAID_OUT = "New case, no layout found"
TOLD = {
    LAID_OUT: "Laid out without a stop or caution. Drag the fracture to where it is; tap a hole for its next role.",
    WITH_WARNINGS: "No layout without a stop or caution was found. The nearest is shown, with its warnings.",
    OTHERWISE: "Laid out for another principle than the one chosen, which gave no layout of its own here.",
    NOT_LAID_OUT: "No layout was found for this fracture with this principle and plate. Every hole is empty so far.",
}


@dataclass(frozen=True, slots=True)
class Tile:
    """One choice: what is sent, its words, its drawing, and what it goes with (bones, or principles that fit)."""

    value: str
    words: str
    picture: str = ""
    goes_with: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class NewCaseCard:
    """The choices of each question."""

    bones: tuple[Tile, ...]
    patterns: tuple[Tile, ...]
    principles: tuple[Tile, ...]
    plates: tuple[Tile, ...]


def new_case_card(knowledge: Knowledge, samples: tuple[ShownSample, ...]) -> NewCaseCard:
    """The card; bones are drawn on one scale, plates likewise."""
    bones = knowledge.catalogue.bones
    return NewCaseCard(
        bones=tuple(Tile(name, spec.label, drawn(_bone(knowledge, name))) for name, spec in bones.items()),
        patterns=tuple(
            Tile(key, words, drawn(_pattern(knowledge, key)), fitting(key)) for key, words in PATTERNS.items()
        ),
        principles=tuple(Tile(key, key.capitalize(), drawn(_example(samples, key))) for key in get_args(Principle)),
        plates=_plates(knowledge),
    )


def label_of(begun: Beginning, asked: Principle | None) -> str:
    """What the new case is called in its history."""
    if begun.stops_and_cautions is None:
        return NOT_LAID_OUT
    if begun.stops_and_cautions:
        return WITH_WARNINGS
    return LAID_OUT if asked in (None, begun.case.constructs[0].principle) else OTHERWISE


def _bone(knowledge: Knowledge, name: str) -> str:
    widest = max(spec.length_mm for spec in knowledge.catalogue.bones.values())
    case = begin_blank(knowledge, name, "A2")
    layout = lay_out(case.constructs[0], "normal", knowledge.catalogue, knowledge.allowances)
    margin = (1.04 * widest - layout.shape.length_mm) / 2
    return draw_icon(layout, View(-margin, layout.shape.length_mm + margin), fracture=False)


def _pattern(knowledge: Knowledge, pattern: Pattern) -> str:
    case = begin_blank(knowledge, PATTERNS_ON, pattern)
    layout = lay_out(case.constructs[0], "normal", knowledge.catalogue, knowledge.allowances)
    middle = layout.shape.length_mm / 2
    return draw_icon(layout, View(middle - AROUND_MM / 2, middle + AROUND_MM / 2), fracture=True)


def _example(samples: tuple[ShownSample, ...], principle: Principle) -> str:
    """A sample built so."""
    fits = (one.thumbnail for one in samples if one.case.constructs[0].principle == principle)
    return next(fits, "")


def _plates(knowledge: Knowledge) -> tuple[Tile, ...]:
    bones, stock = knowledge.catalogue.bones.values(), knowledge.catalogue.series
    longest = max(series.pitch_mm * PLATE_HOLES + 2 * series.end_mm for series in stock.values())
    return tuple(
        Tile(
            key,
            series.label,
            drawn(draw_plate_icon(series, PLATE_HOLES, longest)),
            tuple(bone.name for bone in bones if key in bone.usual_series),
        )
        for key, series in stock.items()
    )
