"""The shape of the ``mechanics`` part of an assessment, and what every document says of the mechanics alike."""

from pydantic import with_config
from typing_extensions import TypedDict

from app.case.closed import CLOSED
from app.mechanics.model import Support

ESTIMATE = "model estimate for comparing layouts, not a prediction for a patient"
SIGNIFICANT = 4


@with_config(CLOSED)
class SupportsDocument(TypedDict):
    """How the ends are held."""

    proximal: Support
    distal: Support


@with_config(CLOSED)
class FigureDocument(TypedDict):
    """One figure; ``low`` and ``high`` are the ends of its band over what is not known, null if none was asked for."""

    value: float | None
    low: float | None
    high: float | None
    unit: str


@with_config(CLOSED)
class LoadDocument(TypedDict):
    """What the construct bears."""

    axial_n: float | None
    bending_nm: float | None
    lateral_nm: float | None
    torsion_nm: float | None


@with_config(CLOSED)
class StiffnessDocument(TypedDict):
    """Stiffness of the whole construct."""

    axial: FigureDocument
    bending_tension: FigureDocument
    bending_compression: FigureDocument
    bending_lateral: FigureDocument
    torsion: FigureDocument


@with_config(CLOSED)
class MotionDocument(TypedDict):
    """Motion at one fracture line under the load; opening is positive. ``no_strain``: why a cortex has no strain."""

    motion_near: FigureDocument
    motion_far: FigureDocument
    motion_shear: FigureDocument
    turn: FigureDocument
    twist: FigureDocument
    strain_near: FigureDocument
    strain_far: FigureDocument
    no_strain: str | None


@with_config(CLOSED)
class ContactDocument(TypedDict):
    """Contact at one fracture line: what tightening presses, what touches under the load, and when it opens."""

    near_preloaded: bool
    far_preloaded: bool
    near_closed: bool
    far_closed: bool
    preload: FigureDocument
    opens_factor: FigureDocument
    opens_axial: FigureDocument
    opens_bending: FigureDocument
    margin: FigureDocument
    slip: FigureDocument


@with_config(CLOSED)
class LineDocument(TypedDict):
    """One fracture line."""

    motion: MotionDocument
    contact: ContactDocument


@with_config(CLOSED)
class PlateDocument(TypedDict):
    """Stress in the plate: its figures, and its course along the shaft."""

    peak_stress: FigureDocument
    peak_place: FigureDocument
    stress_swing: FigureDocument
    fatigue_ratio: FigureDocument
    load_ratio: FigureDocument
    yield_ratio: FigureDocument
    fatigue_strength_mpa: float | None
    yield_strength_mpa: float | None
    s_mm: list[float]
    stress_mpa: list[float | None]


@with_config(CLOSED)
class ScrewLoadDocument(TypedDict):
    """What one screw bears."""

    id: str
    pull: FigureDocument
    pull_of_pull_out: FigureDocument
    bending_of_yield: FigureDocument
    shear_of_friction: FigureDocument


@with_config(CLOSED)
class WorstDocument(TypedDict):
    """What the worst screw bears, and the fragment that is nearest to slipping."""

    pull_out: FigureDocument
    screw_bending: FigureDocument
    friction: FigureDocument


@with_config(CLOSED)
class MechanicsDocument(TypedDict):
    """The mechanics of one construct; in an unstable one there are no figures, and ``unstable`` says why.

    ``worst_line``: which of ``lines`` moves most, from 0.
    """

    note: str
    unstable: str | None
    supports: SupportsDocument
    load: LoadDocument
    stiffness: StiffnessDocument | None
    worst_line: int | None
    lines: list[LineDocument]
    plate: PlateDocument | None
    worst: WorstDocument | None
    screws: list[ScrewLoadDocument]
    slip_ratios: list[float | None]


def rounded(value: float | None) -> float | None:
    """A figure of the mechanics as documents tell it."""
    return None if value is None else float(f"{value:.{SIGNIFICANT}g}")
