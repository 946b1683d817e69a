"""Bridged plates on a tube as solid finite elements saw them, beside the frame model's answers for the same constructs.

`solid_figures.json` says what was modelled: quadratic tetrahedra, 6 to 20 × 10⁴ unknowns, all parts bonded; one mesh
three times finer moved axial stiffness by 0.3 % and torsion by 1.3 %. Made for this purpose, outside this program. The
bands are what a frame of beams is asked for, not what it happens to give; a miss stays a miss, with its cause as far as
it is known.
"""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from app.mechanics.answers import MechanicsResult
from app.mechanics.model import BoneProfile, Construct, FractureLine, Friction, LoadCase, Plate, Screw, Supports
from app.mechanics.solve import analyse

FILE = Path(__file__).with_name("solid_figures.json")
BALL = Supports("ball", "ball")
SCREWS = "screws (hole,N,M,V per N axial; N,M,V per Nmm bending; Mx per Nmm torsion)"
AXIAL, BENDING, TORSION = LoadCase(axial_n=1.0), LoadCase(bending_nmm=1000.0), LoadCase(torsion_nmm=1000.0)
YIELD_MPA = 690.0  # of the screws: any value does, a ratio to it is taken and undone


@dataclass(frozen=True)
class Solid:
    """One construct: its inputs (mm, MPa), and the figures that the solid elements gave."""

    name: str
    inputs: dict[str, Any]
    figures: dict[str, Any]

    @property
    def letter(self) -> str:
        """What the construct is called in short."""
        return self.name.split()[0]

    @property
    def words(self) -> str:
        """Bone, plate and screws in words, with their sizes in mm and moduli in GPa."""
        given = self.inputs
        hole = "round holes" if given["hl"] == given["hw"] else f"slots {given['hl']:g} long"
        filled = ", ".join(str(number + 1) for number in given["filled"])
        over = " (one over the gap)" if given["x0"] == 0.0 else ""
        return (
            f"tube {2 * given['R']:g} × {given['wall']:g}, {given['Eb'] / 1000:g} GPa; gap {given['gap']:g}; plate "
            f"{given['b']:g} × {given['t']:g}, {given['Ep'] / 1000:g} GPa, {given['standoff']:g} off the bone, "
            f"{hole}{over}, pitch {given['pitch']:g}; screws in holes {filled} from the gap on either side"
        )


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
            pitch_mm=1.0, modulus_mpa=given["Es"], yield_mpa=YIELD_MPA, near_fragment=int(x > 0.0),
            far_fragment=int(x > 0.0),
        )
        for n, x in enumerate(places, 1)
        if any(abs(abs(x) - at) < 1e-9 for at in filled)
    )  # fmt: skip
    return Construct(
        bone=bone, plate=plate, screws=screws, fracture_lines=(FractureLine(middle, 0.0, given["gap"], 0.0),),
        friction=Friction(0.37, 0.36), load=load, supports=BALL,
    )  # fmt: skip


def _axial(solid: Solid) -> list[float]:
    return [_number(framed(solid, AXIAL).axial_stiffness_n_per_mm) / solid.figures["axial N/mm"]]


def _bending(solid: Solid) -> list[float]:
    found = framed(solid, BENDING).bending_stiffness_plate_tension_nm_per_deg
    return [_number(found) / solid.figures["bend Nm/deg"]]


def _torsion(solid: Solid) -> list[float]:
    return [_number(framed(solid, TORSION).torsional_stiffness_nm_per_deg) / solid.figures["tors Nm/deg"]]


def _far_motion(solid: Solid) -> list[float]:
    return [1000.0 * framed(solid, AXIAL).lines[0].motion.far_mm / solid.figures["far mm/kN"]]


def _stress(solid: Solid) -> list[float]:
    """Of the sections that the model gives, the one next to mid-gap."""
    plate, middle = framed(solid, AXIAL).plate, solid.inputs["L"] / 2.0
    if plate is None:
        return []
    stress, _ = max(
        zip(plate.stress_mpa, plate.s_mm, strict=True), key=lambda one: (-round(abs(one[1] - middle), 6), one[0])
    )
    return [stress / solid.figures["smax mid axial"]]


def _pull(solid: Solid) -> list[float]:
    """Of the two screws next to the gap."""
    answers = framed(solid, AXIAL).screws
    half = len(answers) // 2
    return [answer.pull_n / solid.figures[SCREWS][0][1] for answer in answers[half - 1 : half + 1]]


def _screw_bending(solid: Solid) -> list[float]:
    """Of the same two, at the plate's underside; the solids' moment is read half-way to the bone, so shear is added."""
    _, _, moment, shear, *_ = solid.figures[SCREWS][0]
    theirs = abs(moment) + abs(shear) * solid.inputs["standoff"] / 2.0
    answers = framed(solid, AXIAL).screws
    half = len(answers) // 2
    section = math.pi * solid.inputs["core"] ** 3 / 32.0
    return [_number(answer.bending_ratio) * YIELD_MPA * section / theirs for answer in answers[half - 1 : half + 1]]


def _number(value: float | None) -> float:
    return math.nan if value is None else value


@dataclass(frozen=True, slots=True)
class Quantity:
    """A figure that both have: `low` and `high` bound what a frame is asked for, as model ÷ solid.

    `ratios` gives model ÷ solid for a construct, once for each place where both have the figure.
    """

    name: str
    low: float
    high: float
    ratios: Callable[[Solid], list[float]]


QUANTITIES = (
    Quantity("axial stiffness", 0.88, 1.15, _axial),
    Quantity("bending stiffness", 0.88, 1.15, _bending),
    Quantity("torsional stiffness", 0.80, 1.10, _torsion),
    Quantity("motion of the far cortex", 0.85, 1.2, _far_motion),
    Quantity("plate stress at mid-gap", 0.9, 1.1, _stress),
    Quantity("pull of the screws next to the gap", 0.9, 1.15, _pull),
    # not less, which would flatter a screw, and not above by more than 0.3
    Quantity("bending of the screws next to the gap", 1.0, 1.3, _screw_bending),
)

NEAR_SLOTS = (
    "mid-gap lies 3.5 mm from the slots on either side, whose edges still concentrate the stress there; ours is "
    "nominal, of the full section"
)
AT_A_HOLE = "a hole lies over mid-gap; ours is nominal, of the net section, without a notch factor for its edge"
SCREW_MOMENT = (
    "the screw takes more of the moment as bending than in the solids, and less as a couple of pulls, most so in a "
    "slot. A shaft turns a little where it is built in, as a disc on a half-space does; with that (0.25·E·d³ N·mm/rad) "
    "pulls come to 0.91-0.96 and bending to 1.04-1.21, but torsion, too low already, to 0.77-0.87: left out until "
    "torsion is better understood"
)
CAUSES = {
    ("plate stress at mid-gap", "G"): NEAR_SLOTS,
    ("plate stress at mid-gap", "H"): NEAR_SLOTS,
    ("plate stress at mid-gap", "I"): AT_A_HOLE,
    ("plate stress at mid-gap", "J"): AT_A_HOLE,
    ("pull of the screws next to the gap", "E"): SCREW_MOMENT,
    ("pull of the screws next to the gap", "G"): SCREW_MOMENT,
    ("pull of the screws next to the gap", "H"): SCREW_MOMENT,
    ("bending of the screws next to the gap", "G"): SCREW_MOMENT,
    ("bending of the screws next to the gap", "H"): SCREW_MOMENT,
}


@dataclass(frozen=True, slots=True)
class SolidRow:
    """One figure of one construct, as model ÷ solid: that of the place where it lies farther off."""

    solid: Solid
    quantity: Quantity
    ratio: float

    @property
    def verdict(self) -> str:
        """`inside` or `outside` what a frame is asked for."""
        return "inside" if self.quantity.low <= self.ratio <= self.quantity.high else "outside"

    @property
    def cause(self) -> str | None:
        """Why it lies outside, as far as that is known; None where it lies inside."""
        return (
            None if self.verdict == "inside" else CAUSES.get((self.quantity.name, self.solid.letter), "not explained")
        )


def run_solids() -> tuple[SolidRow, ...]:
    """Every figure of every construct, in the order of `QUANTITIES`."""
    return tuple(SolidRow(solid, one, _farthest(one, solid)) for one in QUANTITIES for solid in solids())


def _farthest(quantity: Quantity, solid: Solid) -> float:
    middle = math.sqrt(quantity.low * quantity.high)
    return max(quantity.ratios(solid), key=lambda ratio: abs(math.log(ratio / middle)))


def _places(given: dict[str, Any]) -> list[float]:
    """Holes on either side of the middle of the gap (mm); one right over it counts once."""
    half = [given["x0"] + given["pitch"] * k for k in range(given["n_half"])]
    return sorted({round(x, 9) for side in (-1.0, 1.0) for x in (side * h for h in half)})
