"""Stiffness, fracture motion, plate stress and screw loads of a plated long-bone shaft. numpy only.

Model estimates for comparing layouts, not predictions for a patient.
"""

from app.mechanics.answers import (
    InterfaceAnswer,
    LineAnswer,
    MechanicsResult,
    Motion,
    PlateStress,
    ScrewAnswer,
    Strain,
)
from app.mechanics.model import (
    BoneProfile,
    Construct,
    FractureLine,
    Friction,
    LagScrew,
    LoadCase,
    Plate,
    Screw,
    Supports,
)


def analyse(construct: Construct) -> MechanicsResult:
    """Solve a construct for all its load cases; one that holds nothing is answered in ``unstable``.

    Raises:
        ValueError: contradictory input.
    """
    from app.mechanics import solve  # numpy is slow to load, and the first page does without

    return solve.analyse(construct)


__all__ = [
    "BoneProfile",
    "Construct",
    "FractureLine",
    "Friction",
    "InterfaceAnswer",
    "LagScrew",
    "LineAnswer",
    "LoadCase",
    "MechanicsResult",
    "Motion",
    "Plate",
    "PlateStress",
    "Screw",
    "ScrewAnswer",
    "Strain",
    "Supports",
    "analyse",
]
