"""The sheet's headings and fixed sentences."""

import re
from typing import TYPE_CHECKING

from app.mechanics.document import ESTIMATE

if TYPE_CHECKING:
    from app.assess import ConstructAssessment
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
    return f"{one.layout.bone.label}{code}, {construct.principle}"


def plate_line(one: "ConstructAssessment") -> str:
    """The plate in one line."""
    layout, plate = one.layout, one.construct.plate
    low, _ = layout.plate_ends_mm
    parts = [
        f"{layout.series.label}, {plate.holes} holes, {layout.plate_length_mm:.0f} mm",
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
        [fragment.name.capitalize(), f"{fragment.screws} screws, {fragment.cortices} cortices"]
        for fragment in summary.fragments
    ]
    if summary.bridging_span_mm is not None:
        rows.append(["Bridging span", f"{summary.bridging_span_mm:.0f} mm"])
    if summary.plate_span_ratio is not None:
        rows.append(["Plate span ratio", f"{summary.plate_span_ratio:.1f}"])
    return [*rows, ["Screw density", f"{summary.screw_density:.2f}"], ["Travel", f"{summary.travel_mm:g} mm"]]


def mechanics_words(one: "ConstructAssessment") -> str:
    """The mechanics in two sentences: load, stiffness, what the plate bears, and how far to trust it; may be empty."""
    found, loading = one.mechanics, one.loading
    if found is None or loading is None:
        return ""
    load = f"{loading.axial_n:g} N, {loading.bending_nm:g} N·m bending, {loading.torsion_nm:g} N·m torsion"
    told = [f"Under {load} ({loading.stage})", *_mechanics_figures(found)]
    return f"{'; '.join(told)}. {ESTIMATE[0].upper()}{ESTIMATE[1:]}.".replace(" N", "\u00a0N")


def _mechanics_figures(found: "MechanicsResult") -> list[str]:
    if found.unstable is not None:
        return [found.unstable.rstrip(".")]
    figures = [
        ("axial stiffness", found.axial_stiffness_n_per_mm, "N/mm"),
        ("bending stiffness", found.bending_stiffness_plate_tension_nm_per_deg, "N·m/°"),
        ("torsional stiffness", found.torsional_stiffness_nm_per_deg, "N·m/°"),
    ]
    told = [f"{name} {_three_figures(value)} {unit}" for name, value, unit in figures if value is not None]
    if found.plate is not None:
        ratios = f"{found.plate.yield_ratio:.2g} of its yield, {found.plate.fatigue_ratio:.2g} of its fatigue strength"
        told.append(f"highest stress in the plate {ratios}")
    return told


def _three_figures(value: float) -> str:
    """More would promise more than a model estimate holds."""
    return f"{float(f'{value:.3g}'):,.10g}"
