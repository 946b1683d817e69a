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
from app.mechanics.solve import analyse

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
