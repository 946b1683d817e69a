"""Bridged plates on a tube as solid finite elements saw them, and the same constructs for the frame model.

`solid_figures.json` says what was modelled: quadratic tetrahedra, 6 to 20 × 10⁴ unknowns, all parts bonded; one mesh
three times finer moved axial stiffness by 0.3 % and torsion by 1.3 %. Made for this purpose, outside this program.
"""

import json
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from app.mechanics import Construct, LoadCase, MechanicsResult, analyse
from app.mechanics.model import BoneProfile, FractureLine, Friction, Plate, Screw, Supports

FILE = Path(__file__).with_name("solid_figures.json")
BALL = Supports("ball", "ball")


@dataclass(frozen=True)
class Solid:
    """One construct: its inputs (mm, MPa), and the figures that the solid elements gave."""

    name: str
    inputs: dict[str, Any]
    figures: dict[str, Any]


@cache
def solids() -> tuple[Solid, ...]:
    """All of them."""
    found = json.loads(FILE.read_text(encoding="utf-8"))["constructs"]
    return tuple(Solid(name, one["inputs"], one["figures"]) for name, one in found.items())


def framed(solid: Solid, load: LoadCase) -> MechanicsResult:
    """The frame model's answers for the same construct."""
    return analyse(construct_of(solid, load))


def construct_of(solid: Solid, load: LoadCase) -> Construct:
    """The same construct in the terms of the frame model."""
    given = solid.inputs
    middle, places = given["L"] / 2.0, _places(given)
    holes = tuple(middle + x for x in places)
    depth = (2.0 * given["R"],) * 2
    bone = BoneProfile(
        (0.0, given["L"]), depth, depth, (given["wall"],) * 2, given["Eb"],
        given["Eb"] / (2.0 * (1.0 + given["nub"])), 50.0,
    )  # fmt: skip
    plate = Plate(
        width_mm=given["b"], thickness_mm=given["t"], hole_width_mm=given["hw"], hole_length_mm=given["hl"],
        hole_s_mm=holes, standoff_mm=given["standoff"], modulus_mpa=given["Ep"],
        shear_modulus_mpa=given["Ep"] / 2.6, yield_mpa=690.0, fatigue_mpa=380.0, ultimate_mpa=860.0,
    )  # fmt: skip
    filled = {given["x0"] + given["pitch"] * k for k in given["filled"]}
    screws = tuple(
        Screw(
            id=f"h{n}", hole_number=n, kind="locking-2", core_mm=given["core"], thread_mm=given["core"] + 1.0,
            pitch_mm=1.0, modulus_mpa=given["Es"], yield_mpa=690.0, near_fragment=int(x > 0.0),
            far_fragment=int(x > 0.0),
        )
        for n, x in enumerate(places, 1)
        if any(abs(abs(x) - at) < 1e-9 for at in filled)
    )  # fmt: skip
    return Construct(
        bone=bone, plate=plate, screws=screws, fracture_lines=(FractureLine(middle, 0.0, given["gap"], 0.0),),
        friction=Friction(0.37, 0.36), load=load, supports=BALL,
    )  # fmt: skip


def _places(given: dict[str, Any]) -> list[float]:
    """Holes on either side of the middle of the gap (mm); one right over it counts once."""
    half = [given["x0"] + given["pitch"] * k for k in range(given["n_half"])]
    return sorted({round(x, 9) for side in (-1.0, 1.0) for x in (side * h for h in half)})
