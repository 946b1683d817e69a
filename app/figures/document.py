"""The ``mechanics`` part of an assessment: every figure of the table with its value, its band and its unit."""

from collections.abc import Iterable, Mapping
from typing import Any, cast

from app.figures.bands import Band, banded
from app.figures.figure import Figure
from app.figures.mechanics import CONTACT, MOTION, PLATE, SCREW_LOAD, STIFFNESS, WORST
from app.mechanics import LineAnswer, MechanicsResult, PlateStress
from app.mechanics.document import (
    ESTIMATE,
    ContactDocument,
    FigureDocument,
    LineDocument,
    MechanicsDocument,
    MotionDocument,
    PlateDocument,
    ScrewLoadDocument,
    StiffnessDocument,
    WorstDocument,
    rounded,
)

Bands = Mapping[tuple[str, int | None], Band]  # by the figure's id and the index of its line

# Of which figures of the table each of these types is made.
MADE_OF: dict[str, tuple[Figure[Any], ...]] = {
    "StiffnessDocument": STIFFNESS,
    "MotionDocument": MOTION,
    "ContactDocument": CONTACT,
    "PlateDocument": PLATE,
    "ScrewLoadDocument": SCREW_LOAD,
    "WorstDocument": WORST,
}


def field_of(figure: Figure[Any]) -> str:
    """The name of a figure in a document: its id, as other documents write names."""
    return figure.id.replace("-", "_")


def mechanics_document(result: MechanicsResult, drawn: tuple[MechanicsResult, ...] = ()) -> MechanicsDocument:
    """The ``mechanics`` part of an assessment.

    Figures have four significant digits, positions along the plate one decimal.

    Args:
        result: the usual answer.
        drawn: the answers over what is not known, for the bands.
    """
    bands = {(one.figure.id, one.line): one.band for one in banded(result, drawn)}
    load, stable = result.load, result.unstable is None
    return {
        "note": ESTIMATE,
        "unstable": result.unstable,
        "supports": {"proximal": result.supports.proximal, "distal": result.supports.distal},
        "load": {
            "axial_n": rounded(load.axial_n),
            "bending_nm": rounded(load.bending_nmm / 1000),
            "lateral_nm": rounded(load.lateral_nmm / 1000),
            "torsion_nm": rounded(load.torsion_nmm / 1000),
        },
        "stiffness": cast("StiffnessDocument", _told(STIFFNESS, result, bands)) if stable else None,
        "worst_line": result.worst_line,
        "lines": [_line(line, number, bands) for number, line in enumerate(result.lines)],
        "plate": None if result.plate is None else _plate(result, result.plate, bands),
        "worst": cast("WorstDocument", _told(WORST, result, bands)) if stable else None,
        "screws": [
            cast("ScrewLoadDocument", {"id": screw.id, **_told(SCREW_LOAD, screw, {})}) for screw in result.screws
        ],
        "slip_ratios": [rounded(ratio) for ratio in result.slip_ratios],
    }


def _told(
    figures: Iterable[Figure[Any]], of: object, bands: Bands, line: int | None = None
) -> dict[str, FigureDocument]:
    """Those of the figures that are numbers, by their names."""
    found: dict[str, FigureDocument] = {}
    for figure in figures:
        value, band = figure.read(of), bands.get((figure.id, line))
        if isinstance(value, str):
            continue
        low, high = (None, None) if band is None else (rounded(band.low), rounded(band.high))
        found[field_of(figure)] = {"value": rounded(value), "low": low, "high": high, "unit": figure.unit}
    return found


def _line(line: LineAnswer, number: int, bands: Bands) -> LineDocument:
    contact = line.interface
    return {
        "motion": cast("MotionDocument", {**_told(MOTION, line, bands, number), "no_strain": line.strain.reason}),
        "contact": cast(
            "ContactDocument",
            {
                "near_preloaded": contact.near_preloaded,
                "far_preloaded": contact.far_preloaded,
                "near_closed": contact.near_closed,
                "far_closed": contact.far_closed,
                **_told(CONTACT, line, bands, number),
            },
        ),
    }


def _plate(result: MechanicsResult, plate: PlateStress, bands: Bands) -> PlateDocument:
    told = _told(PLATE, result, bands)
    told["peak_place"]["value"] = round(plate.peak_s_mm, 1)
    course = {
        "fatigue_strength_mpa": rounded(plate.fatigue_mpa),
        "yield_strength_mpa": rounded(plate.yield_mpa),
        "s_mm": [round(s, 1) for s in plate.s_mm],
        "stress_mpa": [rounded(stress) for stress in plate.stress_mpa],
    }
    return cast("PlateDocument", {**told, **course})
