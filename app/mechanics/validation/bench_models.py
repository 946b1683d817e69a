"""Constructs for published bench tests: plates on cylinders, with everything that a paper leaves out as an argument."""

from __future__ import annotations

from dataclasses import dataclass

from app.mechanics.model import (
    BoneProfile,
    Construct,
    FractureLine,
    Friction,
    LoadCase,
    Plate,
    Screw,
    ScrewKind,
    Supports,
)

STEEL_MPA = 190_000.0
TITANIUM_MPA = 110_000.0
BALL = Supports("ball", "ball")
MIXED = Supports("held", "ball")
HELD = Supports("held", "held")


@dataclass(frozen=True, slots=True)
class Cylinder:
    """A round surrogate bone.

    Attributes:
        outer_mm: outer diameter (mm).
        wall_mm: thickness of the wall (mm).
        length_mm: whole length (mm).
        modulus_mpa: Young's modulus (MPa).
        poisson: Poisson's ratio.
    """

    outer_mm: float
    wall_mm: float
    length_mm: float
    modulus_mpa: float
    poisson: float = 0.3

    def bone(self) -> BoneProfile:
        """The cylinder as a bone profile.

        The shear strength of its threads is not used by any bench test, and is set to E/500.
        """
        pair = (self.outer_mm, self.outer_mm)
        shear = self.modulus_mpa / (2.0 + 2.0 * self.poisson)
        wall = (self.wall_mm, self.wall_mm)
        return BoneProfile((0.0, self.length_mm), pair, pair, wall, self.modulus_mpa, shear, self.modulus_mpa / 500.0)


@dataclass(frozen=True, slots=True)
class Bar:
    """A straight plate.

    Attributes:
        width_mm: width (mm).
        thickness_mm: thickness (mm).
        hole_mm: diameter of a hole (mm).
        pitch_mm: distance between hole centres (mm).
        holes: number of holes.
        modulus_mpa: Young's modulus (MPa).
        slot_mm: length of a hole (mm); None where it is round.
    """

    width_mm: float
    thickness_mm: float
    hole_mm: float
    pitch_mm: float
    holes: int
    modulus_mpa: float
    slot_mm: float | None = None

    def over(self, middle_mm: float, standoff_mm: float) -> Plate:
        """The plate with its middle at `middle_mm`, `standoff_mm` off the bone (mm).

        The strengths are those of cold-worked steel (from memory), which no bench test uses.
        """
        first = middle_mm - self.pitch_mm * (self.holes - 1) / 2.0
        return Plate(
            width_mm=self.width_mm,
            thickness_mm=self.thickness_mm,
            hole_width_mm=self.hole_mm,
            hole_length_mm=self.slot_mm or self.hole_mm,
            hole_s_mm=tuple(first + k * self.pitch_mm for k in range(self.holes)),
            standoff_mm=standoff_mm,
            modulus_mpa=self.modulus_mpa,
            shear_modulus_mpa=self.modulus_mpa / 2.6,
            yield_mpa=690.0,
            fatigue_mpa=380.0,
            ultimate_mpa=860.0,
        )


@dataclass(frozen=True, slots=True)
class Screwing:
    """Which holes are filled, and with what screw.

    Attributes:
        from_end: numbers of the filled holes, counted from each plate end (1 is the end hole).
        core_mm: core diameter (mm).
        thread_mm: outer diameter of the thread (mm).
        kind: kind of screw.
        modulus_mpa: Young's modulus of the metal (MPa).
    """

    from_end: tuple[int, ...]
    core_mm: float
    thread_mm: float
    kind: ScrewKind = "locking-2"
    modulus_mpa: float = STEEL_MPA

    def screws(self, holes: int) -> tuple[Screw, ...]:
        """The screws of both fragments in a plate of so many holes."""
        numbered = [(n, 0) for n in sorted(self.from_end)] + [
            (holes + 1 - n, 1) for n in sorted(self.from_end, reverse=True)
        ]
        return tuple(
            Screw(
                f"hole {n}",
                n,
                self.kind,
                self.core_mm,
                self.thread_mm,
                self.thread_mm * 0.35,
                self.modulus_mpa,
                690.0,
                fragment,
                fragment,
                clamp_force_n=1000.0,
            )
            for n, fragment in numbered
        )


def plated(
    cylinder: Cylinder,
    bar: Bar,
    screwing: Screwing,
    gap_mm: float,
    standoff_mm: float,
    load: LoadCase | None = None,
    supports: Supports = BALL,
) -> Construct:
    """A cylinder cut in the middle, with a gap of `gap_mm`, under a centred plate `standoff_mm` off it (mm)."""
    middle = cylinder.length_mm / 2.0
    return Construct(
        bone=cylinder.bone(),
        plate=bar.over(middle, standoff_mm),
        screws=screwing.screws(bar.holes),
        fracture_lines=(FractureLine(middle, gap_mm=gap_mm),),
        friction=Friction(plate_bone=0.35, bone_bone=0.4),
        load=load or LoadCase(),
        supports=supports,
    )
