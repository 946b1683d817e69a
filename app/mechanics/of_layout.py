"""From a laid-out construct to the input of the mechanics: geometry, catalogue figures and the loading chosen."""

from dataclasses import dataclass
from functools import lru_cache

from app.catalogue.loads import LoadPreset, Tightening, load_presets, tightening
from app.catalogue.models import Catalogue, ScrewSpec
from app.geometry import BoneShape, Layout, ScrewPath
from app.mechanics import analyse
from app.mechanics.answers import MechanicsResult
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
from app.mechanics.tightening import clamp_force_n, torque_nm, wedge_share

SAMPLES = 17  # along the bone; the beam runs straight between them
NMM = 1000.0
BALL_JOINTS = Supports()


@dataclass(frozen=True, slots=True)
class Loading:
    """The load on the shaft, and how its ends are held.

    Attributes:
        stage: name of the preset.
        axial_n: axial force, compression positive (N).
        bending_nm: bending moment, plate side in tension positive (N·m).
        torsion_nm: torque about the bone axis (N·m).
        supports: how the two bone ends are held.
    """

    stage: str
    axial_n: float
    bending_nm: float
    torsion_nm: float
    supports: Supports = BALL_JOINTS

    @property
    def case(self) -> LoadCase:
        """The loads in the units of the mechanics (N and N·mm)."""
        return LoadCase(axial_n=self.axial_n, bending_nmm=self.bending_nm * NMM, torsion_nmm=self.torsion_nm * NMM)


def preset_loading(bone: str, stage: str = "protected", supports: Supports | None = None) -> Loading:
    """The preset of a bone and a stage of rehabilitation; ball joints where no supports are given.

    Raises:
        KeyError: there is no such bone or stage.
    """
    preset: LoadPreset = load_presets()[bone][stage]
    return Loading(stage, preset.axial_n, preset.bending_nm, preset.torsion_nm, supports or Supports())


def left_out(layout: Layout) -> str:
    """What the solution in the profile's plane leaves out of spirals, turned lines and screws, staggered holes."""
    lines = [line for line in layout.fracture.lines if line.across != 0]
    screws = [screw for screw in layout.screws if screw.turn_deg != 0]
    told = [
        f"Line {line.index + 1}, turned {line.turn_deg:.0f}° about the shaft, is solved as the profile shows it, at "
        f"{line.obliquity_deg:.0f}°; that its faces may slide or open across the plate is left out."
        for line in lines
    ]
    told += [
        f"Line {line.index + 1} winds round the shaft; it is solved as the plane nearest to it."
        for line in layout.fracture.lines
        if line.spiral is not None
    ]
    if screws:
        names = ", ".join(screw.id for screw in screws)
        told.append(f"Of the pull of {names} only the part in the profile’s plane is counted.")
    if layout.series.stagger_mm:
        told.append("Staggered holes and their screws are solved as if in line.")
    return " ".join(told)


def mechanics_of(layout: Layout, catalogue: Catalogue, loading: Loading) -> MechanicsResult:
    """Solve a construct under a loading; where it cannot carry load, ``unstable`` says why.

    Raises:
        ValueError: the input contradicts itself.
    """
    return analyse(model_of(layout, catalogue, loading))


def model_of(layout: Layout, catalogue: Catalogue, loading: Loading) -> Construct:
    """The input of the mechanics for a layout.

    Raises:
        ValueError: the parts contradict each other.
    """
    build = _Build(layout, catalogue, tightening())
    return Construct(
        bone=build.bone(),
        plate=build.plate(),
        screws=tuple(build.screw(path) for path in layout.screws if path.hole is not None),
        fracture_lines=tuple(
            FractureLine(line.position_mm, line.obliquity_deg, line.zone_mm, line.width_mm - line.zone_mm)
            for line in layout.fracture.lines
        ),
        friction=Friction(build.forces.friction_plate_bone, build.forces.friction_bone_bone),
        load=loading.case,
        supports=loading.supports,
        lag_screws=tuple(lag for path in layout.screws if path.hole is None and (lag := build.lag(path)) is not None),
        prebend_mm=layout.construct.plate.prebend_mm,
    )


@lru_cache(maxsize=128)
def _profile(shape: BoneShape, modulus_mpa: float, shear_mpa: float, strength_mpa: float) -> BoneProfile:
    """The bone as samples; the same for every move of the fracture or the plate, so it is kept."""
    stations = tuple(shape.length_mm * n / (SAMPLES - 1) for n in range(SAMPLES))
    depths, widths, walls = (tuple(curve(s) for s in stations) for curve in (shape.depth, shape.width, shape.cortex))
    return BoneProfile(stations, depths, widths, walls, modulus_mpa, shear_mpa, strength_mpa)


@dataclass(frozen=True, slots=True)
class _Build:
    """The parts of the mechanics' input, made from one layout."""

    layout: Layout
    catalogue: Catalogue
    forces: Tightening

    def bone(self) -> BoneProfile:
        """The shaft as samples, its moduli and strength scaled by the bone quality."""
        factor = self.layout.quality.modulus_factor
        modulus = self.catalogue.bone_modulus_mpa * factor
        shear = modulus / (2 * (1 + self.catalogue.bone_poisson))
        return _profile(self.layout.shape, modulus, shear, self.catalogue.bone_shear_strength_mpa * factor)

    def plate(self) -> Plate:
        """The plate with its holes and its metal."""
        series, metal = self.layout.series, self.catalogue.materials[self.layout.series.material]
        return Plate(
            width_mm=series.width_mm,
            thickness_mm=series.thickness_mm,
            hole_width_mm=series.hole_mm,
            hole_length_mm=series.slot_mm,
            hole_s_mm=tuple(hole.s_mm for hole in self.layout.holes),
            standoff_mm=self.layout.construct.plate.standoff_mm,
            modulus_mpa=metal.modulus_mpa,
            shear_modulus_mpa=metal.shear_modulus_mpa,
            yield_mpa=metal.yield_mpa,
            fatigue_mpa=metal.fatigue_mpa,
            ultimate_mpa=metal.ultimate_mpa,
        )

    def fragment(self, path: ScrewPath, passage: int) -> int | None:
        """Index of the main fragment that a cortex belongs to; the zone and the wedge bear no load."""
        if passage >= len(path.passages):
            return None
        owner = path.passages[passage].owner
        return next((f.index for f in self.layout.fracture.fragments if f.name == owner), None)

    def grip(self, spec: ScrewSpec, path: ScrewPath) -> float:
        """The most that a screw can be tightened to (N): a share of what the cortices that it grips hold."""
        from app.mechanics.screw_joints import pull_out_n  # loads numpy, as the solver does

        length = sum(p.length_mm for p in path.passages if p.holds)
        strength = self.catalogue.bone_shear_strength_mpa * self.layout.quality.modulus_factor
        if length <= 0:
            return 0.0
        held = pull_out_n(spec.thread_mm, spec.core_mm, spec.pitch_mm, length, strength)
        return self.forces.most_of_pull_out * float(held)

    def clamp(self, spec: ScrewSpec, grip_n: float) -> float:
        """Force of tightening (N): by its torque, as far as the bone bears it."""
        torque = torque_nm(self.forces.torque_of_4_5_nm, spec.thread_mm)
        return min(clamp_force_n(torque, self.forces.torque_coefficient, spec.thread_mm), grip_n)

    def screw(self, path: ScrewPath) -> Screw:
        """A screw in a hole of the plate; one meant as a lag that draws no two main fragments together only clamps."""
        spec, metal = path.spec, self.catalogue.materials[path.spec.material]
        near, far = self.fragment(path, 0), self.fragment(path, 1)
        gliding = path.role == "lag" and near is not None and far is not None and near != far
        locking = path.role in ("locking-2", "locking-1") and spec.kind == "locking"
        grip = self.grip(spec, path)
        force = 0.0 if locking else self.clamp(spec, grip)
        eccentric = path.role == "eccentric"
        wedge = wedge_share(self.forces.slope_deg, self.forces.friction_head, self.forces.friction_plate_bone)
        return Screw(
            id=path.id,
            hole_number=path.hole or 0,
            kind=path.role if locking else "lag" if gliding else "clamped",  # type: ignore[arg-type]
            core_mm=spec.core_mm,
            thread_mm=spec.thread_mm,
            pitch_mm=spec.pitch_mm,
            modulus_mpa=metal.modulus_mpa,
            yield_mpa=metal.yield_mpa,
            near_fragment=near,
            far_fragment=far,
            clamp_force_n=force,
            grip_n=grip,
            shift_mm=path.s_mm - path.head[0] if eccentric else 0.0,
            compression_limit_n=force * wedge if eccentric else 0.0,
            lag_force_n=force if gliding else 0.0,
            far_s_mm=path.tip[0] if gliding else None,
        )

    def lag(self, path: ScrewPath) -> LagScrew | None:
        """An independent lag screw; None where it does not draw two main fragments together."""
        near, far = self.fragment(path, 0), self.fragment(path, 1)
        if near is None or far is None or near == far:
            return None
        grip = self.grip(path.spec, path)
        return LagScrew(
            id=path.id,
            near_s_mm=path.passages[0].entry[0],
            far_s_mm=path.tip[0],
            near_fragment=near,
            far_fragment=far,
            core_mm=path.spec.core_mm,
            thread_mm=path.spec.thread_mm,
            pitch_mm=path.spec.pitch_mm,
            modulus_mpa=self.catalogue.materials[path.spec.material].modulus_mpa,
            force_n=self.clamp(path.spec, grip),
            turn_deg=path.turn_deg,
            grip_n=grip,
        )
