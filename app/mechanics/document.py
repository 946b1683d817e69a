"""The mechanics as plain values for the assessment document."""

from typing import NotRequired

from pydantic import with_config
from typing_extensions import TypedDict

from app.case.closed import CLOSED
from app.mechanics.answers import InterfaceAnswer, MechanicsResult, Motion, ScrewAnswer, Strain
from app.mechanics.model import Support

ESTIMATE = "model estimate for comparing layouts, not a prediction for a patient"
SIGNIFICANT = 4


@with_config(CLOSED)
class SupportsDocument(TypedDict):
    """How the ends are held."""

    proximal: Support
    distal: Support


@with_config(CLOSED)
class LoadDocument(TypedDict):
    """What the construct bears."""

    axial_n: float | None
    bending_nm: float | None
    lateral_nm: float | None
    torsion_nm: float | None


@with_config(CLOSED)
class BendingDocument(TypedDict):
    """Bending stiffness both ways."""

    plate_tension: float | None
    plate_compression: float | None


@with_config(CLOSED)
class MotionDocument(TypedDict):
    """Motion at one fracture line, mm; opening is positive."""

    near: float | None
    far: float | None
    shear: float | None


@with_config(CLOSED)
class StrainDocument(TypedDict):
    """Strain at one fracture line, percent; ``reason`` where there is none."""

    near: float | None
    far: float | None
    reason: str | None


@with_config(CLOSED)
class InterfaceDocument(TypedDict):
    """Contact at one fracture line under load."""

    closed: bool
    near_closed: bool
    far_closed: bool
    preload_n: float | None
    opens_at_n: float | None
    margin: float | None


@with_config(CLOSED)
class LineDocument(TypedDict):
    """One fracture line."""

    motion_mm: MotionDocument
    strain_percent: StrainDocument
    interface: InterfaceDocument


@with_config(CLOSED)
class PlateStressDocument(TypedDict):
    """Stress along the plate."""

    s_mm: list[float]
    stress_mpa: list[float | None]
    peak_mpa: float | None
    peak_s_mm: float
    fatigue_ratio: float | None
    fatigue_load_ratio: float | None
    yield_ratio: float | None
    fatigue_strength_mpa: float | None
    yield_strength_mpa: float | None


@with_config(CLOSED)
class ScrewLoadDocument(TypedDict):
    """What one screw bears, as parts of what it can take."""

    id: str
    pull_out_ratio: float | None
    bending_ratio: float | None
    friction_ratio: float | None


@with_config(CLOSED)
class BandDocument(TypedDict):
    """Between what one figure lies over what is not known; ``line`` counts fracture lines from 1, null: the whole."""

    figure: str
    line: int | None
    unit: str
    low: float | None
    high: float | None
    lacking: int


@with_config(CLOSED)
class MechanicsDocument(TypedDict):
    """The mechanics of one construct; ``motion_mm``, ``strain_percent`` and ``interface`` are of the worst line.

    ``bands`` is there only where it was asked for.
    """

    note: str
    unstable: str | None
    supports: SupportsDocument
    load: LoadDocument
    axial_stiffness_n_per_mm: float | None
    bending_stiffness_nm_per_deg: BendingDocument
    torsional_stiffness_nm_per_deg: float | None
    motion_mm: MotionDocument | None
    strain_percent: StrainDocument | None
    interface: InterfaceDocument | None
    lines: list[LineDocument]
    plate_stress_mpa: PlateStressDocument | None
    screws: list[ScrewLoadDocument]
    slip_ratios: list[float | None]
    bands: NotRequired[list[BandDocument]]


def mechanics_document(result: MechanicsResult) -> MechanicsDocument:
    """The ``mechanics`` part of an assessment, in N, mm, MPa and N·m.

    Figures have four significant digits, positions along the plate one decimal. In an unstable construct every figure
    is None or empty, and ``unstable`` says why.
    """
    load = result.load
    document: MechanicsDocument = {
        "note": ESTIMATE,
        "unstable": result.unstable,
        "supports": {"proximal": result.supports.proximal, "distal": result.supports.distal},
        "load": {
            "axial_n": rounded(load.axial_n),
            "bending_nm": rounded(load.bending_nmm / 1000),
            "lateral_nm": rounded(load.lateral_nmm / 1000),
            "torsion_nm": rounded(load.torsion_nmm / 1000),
        },
        "axial_stiffness_n_per_mm": rounded(result.axial_stiffness_n_per_mm),
        "bending_stiffness_nm_per_deg": {
            "plate_tension": rounded(result.bending_stiffness_plate_tension_nm_per_deg),
            "plate_compression": rounded(result.bending_stiffness_plate_compression_nm_per_deg),
        },
        "torsional_stiffness_nm_per_deg": rounded(result.torsional_stiffness_nm_per_deg),
        "motion_mm": None,
        "strain_percent": None,
        "interface": None,
        "lines": [
            {
                "motion_mm": _motion(line.motion),
                "strain_percent": _strain(line.strain),
                "interface": _interface(line.interface),
            }
            for line in result.lines
        ],
        "plate_stress_mpa": _plate(result),
        "screws": [_screw(screw) for screw in result.screws],
        "slip_ratios": [rounded(ratio) for ratio in result.slip_ratios],
    }
    worst = result.worst
    if worst is not None:
        document["motion_mm"] = _motion(worst.motion)
        document["strain_percent"] = _strain(worst.strain)
        document["interface"] = _interface(worst.interface)
    return document


def rounded(value: float | None) -> float | None:
    """A figure of the mechanics as documents tell it."""
    return None if value is None else float(f"{value:.{SIGNIFICANT}g}")


def _motion(motion: Motion) -> MotionDocument:
    return {"near": rounded(motion.near_mm), "far": rounded(motion.far_mm), "shear": rounded(motion.shear_mm)}


def _strain(strain: Strain) -> StrainDocument:
    return {"near": rounded(strain.near_percent), "far": rounded(strain.far_percent), "reason": strain.reason}


def _interface(interface: InterfaceAnswer) -> InterfaceDocument:
    return {
        "closed": interface.closed,
        "near_closed": interface.near_closed,
        "far_closed": interface.far_closed,
        "preload_n": rounded(interface.preload_n),
        "opens_at_n": rounded(interface.opens_at_n),
        "margin": rounded(interface.margin),
    }


def _plate(result: MechanicsResult) -> PlateStressDocument | None:
    plate = result.plate
    if plate is None:
        return None
    return {
        "s_mm": [round(s, 1) for s in plate.s_mm],
        "stress_mpa": [rounded(stress) for stress in plate.stress_mpa],
        "peak_mpa": rounded(plate.peak_mpa),
        "peak_s_mm": round(plate.peak_s_mm, 1),
        "fatigue_ratio": rounded(plate.fatigue_ratio),
        "fatigue_load_ratio": rounded(plate.load_ratio),
        "yield_ratio": rounded(plate.yield_ratio),
        "fatigue_strength_mpa": rounded(plate.fatigue_mpa),
        "yield_strength_mpa": rounded(plate.yield_mpa),
    }


def _screw(screw: ScrewAnswer) -> ScrewLoadDocument:
    return {
        "id": screw.id,
        "pull_out_ratio": rounded(screw.pull_out_ratio),
        "bending_ratio": rounded(screw.bending_ratio),
        "friction_ratio": rounded(screw.friction_ratio),
    }
