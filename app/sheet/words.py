"""The sheet's headings and fixed sentences."""

import re
from typing import TYPE_CHECKING

from app.figures.bands import band_text, banded
from app.figures.construct import BRIDGING_SPAN, CORTICES, PLATE_SPAN_RATIO, SCREW_DENSITY, SCREWS, TRAVEL
from app.figures.mechanics import (
    AXIAL,
    AXIAL_LOAD,
    BENDING_LOAD,
    BENDING_TENSION,
    FATIGUE,
    TORSION,
    TORSION_LOAD,
    YIELD,
)
from app.mechanics.document import ESTIMATE
from app.mechanics.of_layout import left_out

if TYPE_CHECKING:
    from app.assess import ConstructAssessment
    from app.drawing.template import Row
    from app.mechanics import MechanicsResult

LONGEST_WORD = 24
NOTE_CHARACTERS = 400
CAUTION = (
    "Planning aid, not a medical device. It does not replace a licensed surgeon's judgement, the instructions of the "
    "implants' maker, or local protocol. All lengths are nominal: measure every hole. Write no name, date of birth or "
    "record number on this sheet."
)
_LONG = re.compile(rf"\S{{{LONGEST_WORD},}}")
_PIECE = re.compile(r".{6}(?=.)")


def breakable(text: str) -> str:
    """Let a word that may be longer than a line be broken, by a zero-width space after every sixth character."""
    return _LONG.sub(lambda match: _PIECE.sub(lambda piece: piece[0] + "\u200b", match[0]), text)


def shortened(note: str) -> str:
    """The note on one line, cut at 400 characters."""
    flat = " ".join(note.split())
    return breakable(flat if len(flat) <= NOTE_CHARACTERS else flat[: NOTE_CHARACTERS - 1].rstrip() + "…")


def heading(one: "ConstructAssessment") -> str:
    """Bone, code and principle."""
    construct = one.construct
    code = f" {construct.fracture.code}" if construct.fracture.code else ""
    return f"{construct.bone.title}{code}, {construct.principle}"


def plate_line(one: "ConstructAssessment") -> str:
    """The plate in one line."""
    layout, plate = one.layout, one.construct.plate
    low, _ = layout.plate_ends_mm
    parts = [
        f"{layout.series.label}, {plate.holes} holes, {layout.plate_length_mm:.0f} mm",
        f"on the {one.construct.surface} surface{'' if plate.surface else ' (usual)'}",
        f"its proximal end {low:.0f} mm from the proximal end of the bone",
    ]
    if plate.prebend_mm:
        parts.append(f"pre-bent {plate.prebend_mm:g} mm")
    if plate.standoff_mm:
        parts.append(f"{plate.standoff_mm:g} mm off the bone")
    return "; ".join(parts)


def figures(one: "ConstructAssessment") -> list[list[str]]:
    """The construct summary: name and value."""
    summary = one.summary
    rows = [
        [fragment.name.capitalize(), ", ".join(f"{f.text(fragment)} {f.label.lower()}" for f in (SCREWS, CORTICES))]
        for fragment in summary.fragments
    ]
    whole = (BRIDGING_SPAN, PLATE_SPAN_RATIO, SCREW_DENSITY, TRAVEL)
    return [*rows, *([f.label, f.told(summary)] for f in whole if f.read(summary) is not None)]


def mechanics_words(one: "ConstructAssessment", drawn: "tuple[MechanicsResult, ...]" = ()) -> str:
    """The mechanics in two sentences: load, stiffness, what the plate bears, and how far to trust it; may be empty.

    With the answers ``drawn`` over what is not known, each figure is told with its band.
    """
    found, loading = one.mechanics, one.loading
    if found is None or loading is None:
        return ""
    asked = ((loading.bending_nm, BENDING_LOAD), (loading.torsion_nm, TORSION_LOAD))
    turning = ", ".join(f"{value:g} {figure.unit} {figure.label.lower()}" for value, figure in asked)
    load = f"{loading.axial_n:g} {AXIAL_LOAD.unit}, {turning}"
    told = [f"Under {load} ({loading.stage})", *_mechanics_figures(found, drawn)]
    words = f"{'; '.join(told)}. {ESTIMATE[0].upper()}{ESTIMATE[1:]}.".replace(" N", "\u00a0N")
    return f"{words} {left_out(one.layout)}".rstrip()


def _mechanics_figures(found: "MechanicsResult", drawn: "tuple[MechanicsResult, ...]") -> list[str]:
    if found.unstable is not None:
        return [found.unstable.rstrip(".")]
    told = (AXIAL, BENDING_TENSION, TORSION, YIELD, FATIGUE)
    bands = {one.figure.id: f" ({text})" for one in banded(found, drawn) if (text := band_text(one.figure, one.band))}
    return [
        f"{_uncapitalised(f.full_name)} {f.told(found)}{bands.get(f.id, '')}" for f in told if f.read(found) is not None
    ]


def _uncapitalised(text: str) -> str:
    return text[0].lower() + text[1:]


def template_words(rows: "tuple[Row, ...]") -> str:
    """What the bending template is; empty without one."""
    if not rows:
        return ""
    lower = " Lower line: with the pre-bend on top." if len(rows) > 1 else ""
    return (
        "Bending template: the plate’s underside, the bone below. Bend between the bars, which are its holes; an arrow "
        f"up turns the ends away from the bone.{lower}"
    )
