"""The frame model compared with closed-form solutions of strength-of-materials handbooks; both are computed at need."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from app.mechanics.answers import MechanicsResult
from app.mechanics.members import Pieces, stepped_stiffness
from app.mechanics.model import Construct, LoadCase, Screw
from app.mechanics.screw_joints import pull_out_n
from app.mechanics.sections import rectangle_torsion
from app.mechanics.solve import analyse
from app.mechanics.validation.bench_models import STEEL_MPA, Bar, Cylinder, Screwing, plated

GERE = "Gere & Timoshenko, Mechanics of Materials"
TUBE = Cylinder(outer_mm=27.0, wall_mm=6.0, length_mm=400.0, modulus_mpa=17_000.0)
BAR = Bar(width_mm=14.0, thickness_mm=4.5, hole_mm=5.5, pitch_mm=18.0, holes=12, modulus_mpa=STEEL_MPA)
EXACT = 1e-6
PER_DEGREE = math.pi / 180.0 / 1000.0  # N·mm per radian to N·m per degree


@dataclass(frozen=True, slots=True)
class ClosedForm:
    """One figure of the model beside that of a formula.

    Attributes:
        name: what the figure is.
        formula: the formula, with its symbols.
        unit: unit of both figures.
        model: figure of the model.
        closed_form: figure of the formula.
        tolerance: relative difference allowed.
        why: why that difference is allowed.
        source: where the formula stands.
    """

    name: str
    formula: str
    unit: str
    model: float
    closed_form: float
    tolerance: float
    why: str
    source: str

    @property
    def difference(self) -> float:
        """Relative difference between the two figures, |model − formula| ÷ |formula|."""
        return abs(self.model - self.closed_form) / abs(self.closed_form)

    @property
    def agrees(self) -> bool:
        """Whether the difference is within the tolerance."""
        return self.difference <= self.tolerance


def closed_forms() -> tuple[ClosedForm, ...]:
    """Every comparison; some ten solutions.

    Raises:
        ValueError: a construct of a comparison is unstable.
    """
    return (*_tube(), _cantilever(), _composite(), *_open_span(), _rectangle(), _pull_out())


def _known(value: float | None) -> float:
    if value is None:
        raise ValueError("a construct of the comparison is unstable")
    return value


def _area_and_inertia() -> tuple[float, float]:
    outer, inner = TUBE.outer_mm, TUBE.outer_mm - 2.0 * TUBE.wall_mm
    return math.pi * (outer**2 - inner**2) / 4.0, math.pi * (outer**4 - inner**4) / 64.0


def _bare_tube() -> MechanicsResult:
    """An intact tube under a plate and screws that are too soft to have an effect."""
    base = plated(TUBE, BAR, Screwing((1, 6), 4.0, 5.0), 0.0, 1.0, LoadCase(axial_n=500.0))
    plate = replace(base.plate, modulus_mpa=1e-4, shear_modulus_mpa=1e-4)
    screws = tuple(replace(one, modulus_mpa=1e-4, near_fragment=0, far_fragment=0) for one in base.screws)
    return analyse(replace(base, plate=plate, screws=screws, fracture_lines=()))


def _tube() -> tuple[ClosedForm, ...]:
    result, (area, inertia) = _bare_tube(), _area_and_inertia()
    modulus, length = TUBE.modulus_mpa, TUBE.length_mm
    shear = modulus / (2.0 + 2.0 * TUBE.poisson)
    why = "exact but for the vanishing plate"
    return (
        ClosedForm("Axial stiffness of a tube", "EA ÷ L", "N/mm", _known(result.axial_stiffness_n_per_mm),
                   modulus * area / length, EXACT, why, GERE),
        ClosedForm("Bending stiffness of a tube", "EI ÷ L", "N·m/°",
                   _known(result.bending_stiffness_plate_tension_nm_per_deg),
                   modulus * inertia / length * PER_DEGREE, EXACT, why, GERE),
        ClosedForm("Torsional stiffness of a tube", "GJ ÷ L", "N·m/°", _known(result.torsional_stiffness_nm_per_deg),
                   shear * 2.0 * inertia / length * PER_DEGREE, EXACT, why, GERE),
    )  # fmt: skip


def _cantilever() -> ClosedForm:
    length, bending, shear, load, one = 80.0, 3.0e6, 4.0e4, 25.0, np.ones((1, 1))
    flexible = Pieces(length * one, one / 1e6, one / bending, one / bending, one / bending, one / shear)
    tip = np.linalg.solve(stepped_stiffness(flexible)[0, 0], [0.0, load, 0.0])
    formula = load * length**3 / (3.0 * bending) + load * length / shear
    source = f"{GERE}; shear by Timoshenko 1921"
    return ClosedForm("Tip of a shear-flexible cantilever", "PL³ ÷ 3EI + PL ÷ GA", "mm", float(tip[1]), formula,
                      1e-12, "exact", source)  # fmt: skip


def _clamped_turn(holes: int) -> float:
    """Rotation of the tube's ends per moment (rad per N·mm).

    A plate of so many holes is clamped on its whole length.
    """
    bar = replace(BAR, holes=holes, hole_mm=1e-6)
    base = plated(TUBE, bar, Screwing((1,), 3.0, 4.5, "clamped"), 0.0, 0.0, LoadCase())
    screws = tuple(
        Screw(f"{n}", n, "clamped", 3.0, 4.5, 1.75, STEEL_MPA, 690.0, 0, 0, clamp_force_n=1e3)
        for n in range(1, holes + 1)
    )
    plate = replace(base.plate, hole_length_mm=9.0)  # the length that a screw's head sits on
    result = analyse(replace(base, plate=plate, screws=screws, fracture_lines=()))
    return math.radians(1.0) / _known(result.bending_stiffness_plate_tension_nm_per_deg) / 1000.0


def _composite() -> ClosedForm:
    """Rotation over four more pitches of joined length in place of bare bone; the difference cancels the plate ends."""
    area, inertia = _area_and_inertia()
    bone, plate = TUBE.modulus_mpa * area, STEEL_MPA * BAR.width_mm * BAR.thickness_mm
    bare = TUBE.modulus_mpa * inertia
    apart = (TUBE.outer_mm + BAR.thickness_mm) / 2.0
    joined = bare + plate * BAR.thickness_mm**2 / 12.0 + apart**2 * bone * plate / (bone + plate)
    span = 4.0 * BAR.pitch_mm
    return ClosedForm(
        "Turn over four pitches of bone and plate as one section", "1 ÷ (E₁I₁ + E₂I₂ + d²·E₁A₁E₂A₂ ÷ ΣEA)", "°/N·m",
        math.degrees(_clamped_turn(14) - _clamped_turn(10)) * 1000.0,
        math.degrees(span * (1.0 / joined - 1.0 / bare)) * 1000.0,
        2e-3, "joined at the holes only, not along the whole length", f"{GERE} (transformed section)",
    )  # fmt: skip


def _moment_only(standoff_mm: float, from_end: tuple[int, ...]) -> Construct:
    return plated(TUBE, BAR, Screwing(from_end, 4.0, 5.0), 6.0, standoff_mm, LoadCase(bending_nmm=1000.0))


def _open_span() -> tuple[ClosedForm, ...]:
    """Over an open gap the plate alone carries a uniform moment, whatever the span."""
    formula = 6.0 * 1000.0 / (BAR.width_mm * BAR.thickness_mm**2)
    rows = []
    for words, holes in (("short", (4, 5, 6)), ("long", (2, 3, 4))):
        construct = _moment_only(1.0, holes)
        plate = analyse(construct).plate
        edge = 9.0 if words == "short" else 27.0 + BAR.pitch_mm
        middle = TUBE.length_mm / 2.0
        if plate is None:
            raise ValueError("a construct of the comparison is unstable")
        inside = [v for s, v in zip(plate.s_mm, plate.stress_mpa, strict=True) if abs(s - middle) < edge - 1e-6]
        rows.append(
            ClosedForm(f"Plate stress over an open gap, {words} span, 1 N·m", "6M ÷ bt²", "MPa", min(inside), formula,
                       EXACT, "exact: full section between the holes", GERE)
        )  # fmt: skip
    return tuple(rows)


def _rectangle() -> ClosedForm:
    return ClosedForm(
        "Torsion constant of a 2 : 1 rectangle", "0.229·bt³", "mm⁴", rectangle_torsion(6.0, 3.0), 0.229 * 6.0 * 27.0,
        6e-3, "the table has three figures", "Timoshenko & Goodier, Theory of Elasticity (table from memory)",
    )  # fmt: skip


def _pull_out() -> ClosedForm:
    return ClosedForm(
        "Pull-out of a 3.5 cortex screw, 20 mm of foam of 4.2 MPa", "S·π·D·L·(0.5 + 0.57735·h ÷ p)", "N",
        pull_out_n(3.5, 2.4, 1.25, 20.0, 4.2), 696.4, 1e-4, "the worked table has four figures",
        "Chapman 1996, J Biomech Eng 118:391-8; screw sizes of ISO 5835 from memory",
    )  # fmt: skip
