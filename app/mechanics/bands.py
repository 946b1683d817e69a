"""What is not known, carried through: the same construct solved for a fixed design of draws.

A figure without its uncertainty invites comparing digits that mean nothing. Each of the figures that no plan can know
(see ``app.catalogue.unknowns``) is drawn between its ends, all together, in a rank-1 lattice: draw k has the shares
frac(k·z_j/n) with z_j = 11^j mod n and n = 23, of which 11 is a primitive root, so that each figure takes each of 23
evenly spaced values once (source: Korobov lattices; Niederreiter, Random Number Generation and Quasi-Monte Carlo
Methods, SIAM 1992, from memory). How the ends are held is not among them: it is chosen, and named with the figures.
"""

from dataclasses import dataclass, replace
from functools import lru_cache

from app.catalogue.loads import tightening
from app.catalogue.unknowns import DRAWS, Unknown, unknowns
from app.mechanics import analyse
from app.mechanics.answers import MechanicsResult
from app.mechanics.model import Construct, Friction
from app.mechanics.tightening import wedge_share

ROOT = 11  # of the primitive roots of DRAWS, one by which no two figures go together more than 0.32 (Pearson's r)


@dataclass(frozen=True, slots=True)
class Draw:
    """One possible truth.

    Attributes:
        foundation: κ, the bone's hold of a screw ÷ its modulus (dimensionless).
        bone_modulus: factor of the bone's moduli.
        friction_plate_bone: coefficient of friction.
        friction_bone_bone: coefficient of friction.
        clamp: factor of every force of tightening, up to what the bone bears.
        friction_head: coefficient of friction of an eccentric screw's head on the slope of its hole.
        slot: how much of what a hole is longer than wide weakens the plate, 0 to 1.
    """

    foundation: float
    bone_modulus: float
    friction_plate_bone: float
    friction_bone_bone: float
    clamp: float
    friction_head: float
    slot: float


@lru_cache(maxsize=1)
def draws() -> tuple[Draw, ...]:
    """The design, the same for every construct, so that two of them can be compared draw by draw."""
    table = unknowns()
    return tuple(Draw(**_drawn(table, number)) for number in range(DRAWS))


def _drawn(table: tuple[Unknown, ...], number: int) -> dict[str, float]:
    steps = {one.name: pow(ROOT, place, DRAWS) * number % DRAWS for place, one in enumerate(table)}
    return {one.name: one.at((steps[one.name] + 0.5) / DRAWS) for one in table}


def varied(construct: Construct, draw: Draw) -> Construct:
    """The construct as it would be if the draw were true."""
    bone, plate = construct.bone, construct.plate
    wedge = wedge_share(tightening().slope_deg, draw.friction_head, draw.friction_plate_bone)
    longer = max(0.0, plate.hole_length_mm - plate.hole_width_mm)
    return replace(
        construct,
        bone=replace(
            bone,
            modulus_mpa=bone.modulus_mpa * draw.bone_modulus,
            shear_modulus_mpa=bone.shear_modulus_mpa * draw.bone_modulus,
        ),
        plate=replace(plate, hole_length_mm=plate.hole_length_mm - longer * (1 - draw.slot)),
        screws=tuple(
            replace(
                screw,
                clamp_force_n=(force := min(screw.clamp_force_n * draw.clamp, screw.grip_n)),
                lag_force_n=min(screw.lag_force_n * draw.clamp, screw.grip_n),
                compression_limit_n=force * wedge if screw.shift_mm else 0.0,
            )
            for screw in construct.screws
        ),
        lag_screws=tuple(
            replace(lag, force_n=min(lag.force_n * draw.clamp, lag.grip_n)) for lag in construct.lag_screws
        ),
        friction=Friction(draw.friction_plate_bone, draw.friction_bone_bone),
        foundation=draw.foundation,
    )


def solved(construct: Construct) -> tuple[MechanicsResult, ...]:
    """The answers of all draws, in their order; none where the construct holds nothing.

    Raises:
        ValueError: the input contradicts itself.
    """
    first, *rest = draws()
    found = analyse(varied(construct, first))
    if found.unstable is not None:
        return ()
    return (found, *(analyse(varied(construct, draw)) for draw in rest))
