"""The case document: what the user says, and the edits that change it."""

from app.case.edits import Edit, apply, parse_edit
from app.case.faults import Fault, InvalidCase, parse_case
from app.case.models import (
    Bone,
    BoneName,
    BoneQuality,
    Case,
    Construct,
    Fracture,
    FractureLine,
    Hole,
    LagScrew,
    Plate,
    Principle,
    Role,
    Wedge,
)

__all__ = [
    "Bone",
    "BoneName",
    "BoneQuality",
    "Case",
    "Construct",
    "Edit",
    "Fault",
    "Fracture",
    "FractureLine",
    "Hole",
    "InvalidCase",
    "LagScrew",
    "Plate",
    "Principle",
    "Role",
    "Wedge",
    "apply",
    "parse_case",
    "parse_edit",
]
