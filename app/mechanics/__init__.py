"""Stiffness, interfragmentary motion, plate stress and screw loads of a plated long-bone shaft: a linear frame model.

Contact at the fracture faces is the only non-linear part. Only numpy is needed. All figures are model estimates for
comparing layouts, not predictions for a patient.
"""

import os

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

# numpy reads this when it is loaded, which nobody but this package does. The systems solved here are small: further
# threads of its BLAS have nothing to do but wait for work, which they do at full speed, on every core there is.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")


def analyse(construct: Construct) -> MechanicsResult:
    """Solve a construct under its load case.

    A construct in which some fragment is not held is answered too: `unstable` says why, and every figure is None or
    empty.

    Raises:
        ValueError: the input contradicts itself.
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
