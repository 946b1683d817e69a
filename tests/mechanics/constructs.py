"""Constructs for the tests: round sizes of no particular bone or plate."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from app.mechanics import BoneProfile, Construct, FractureLine, Friction, LoadCase, Plate, Screw
from app.mechanics.model import ScrewKind

STEEL_MPA = 190_000.0


def tube(length: float = 400.0, outer: float = 27.0, cortex: float = 6.0, modulus: float = 17_000.0) -> BoneProfile:
    return BoneProfile((0.0, length), (outer,) * 2, (outer,) * 2, (cortex,) * 2, modulus, modulus / 2.6, 51.6)


def plate(
    holes: int = 12, pitch: float = 18.0, middle: float = 200.0, standoff: float = 1.0, thickness: float = 4.5
) -> Plate:
    first = middle - pitch * (holes - 1) / 2.0
    return Plate(
        width_mm=14.0,
        thickness_mm=thickness,
        hole_width_mm=5.5,
        hole_length_mm=9.0,
        hole_s_mm=tuple(first + pitch * k for k in range(holes)),
        standoff_mm=standoff,
        modulus_mpa=STEEL_MPA,
        shear_modulus_mpa=STEEL_MPA / 2.6,
        yield_mpa=690.0,
        fatigue_mpa=380.0,
        ultimate_mpa=860.0,
    )


def screw(hole: int, near: int | None, far: int | None, kind: ScrewKind = "locking-2", **more: float) -> Screw:
    core = 4.4 if kind.startswith("locking") else 3.0
    thread = 5.0 if kind.startswith("locking") else 4.5
    return Screw(f"screw {hole}", hole, kind, core, thread, 1.75, STEEL_MPA, 690.0, near, far, **more)


def bridged(
    empty_inner: int = 0,
    per_fragment: int | None = None,
    gap: float = 6.0,
    holes: int = 12,
    load: LoadCase | None = None,
    the_plate: Plate | None = None,
    kind: ScrewKind = "locking-2",
) -> Construct:
    """A bridged open gap: `empty_inner` holes left free on each side, then `per_fragment` screws (None: all)."""
    half = holes // 2
    offsets = range(empty_inner, half if per_fragment is None else empty_inner + per_fragment)
    screws = [screw(half - k, 0, 0, kind) for k in reversed(offsets)] + [
        screw(half + 1 + k, 1, 1, kind) for k in offsets
    ]
    return Construct(
        bone=tube(),
        plate=the_plate or plate(holes),
        screws=tuple(screws),
        fracture_lines=(FractureLine(200.0, gap_mm=gap),),
        friction=Friction(plate_bone=0.35, bone_bone=0.4),
        load=load or LoadCase(axial_n=200.0),
    )


def compressed(
    obliquity: float = 0.0, prebend: float = 0.0, load: LoadCase | None = None, screws: Iterable[Screw] | None = None
) -> Construct:
    """A closed fracture under a conventional plate of eight holes.

    Three clamped screws a side, one of them eccentric.
    """
    filled = screws or [
        *(screw(k, 0, 0, "clamped", clamp_force_n=1500.0) for k in (1, 2, 4)),
        screw(5, 1, 1, "clamped", clamp_force_n=1500.0, shift_mm=-1.0, compression_limit_n=600.0),
        *(screw(k, 1, 1, "clamped", clamp_force_n=1500.0) for k in (7, 8)),
    ]
    base = bridged(holes=8, load=load)
    return replace(
        base,
        plate=plate(8, standoff=0.0),
        screws=tuple(filled),
        fracture_lines=(FractureLine(200.0, obliquity_deg=obliquity),),
        prebend_mm=prebend,
    )
