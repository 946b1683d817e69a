"""What the catalogue holds: generic bones, plate series, screws, materials, bone quality. Lengths in mm, E in MPa."""

from dataclasses import dataclass, field
from typing import Literal

from app.case.models import Surface

Standing = Literal["published", "handbook", "common practice", "from memory", "assumed"]
HoleKind = Literal["combination", "dynamic", "oval", "round"]
On = Literal["humans", "veterinary", "animals", "bench", "calculation", "none"]
ScrewKind = Literal["cortex", "locking"]
Axis = Literal["anteroposterior", "mediolateral", "superoinferior"]
Direction = Literal["anterior", "posterior", "lateral", "medial", "superior", "inferior"]
InTension = Literal["tension", "compression", "varies", "not known"]


@dataclass(frozen=True, slots=True)
class Figure:
    """Where a figure comes from: in words, how firmly it may be stated, and on whom or what it was found.

    ``on``: people, their bones and the surgery on them (``humans``); a page for animal surgeons, taken only where no
    human source was found; animals; bench tests, plastic bone and computer models; arithmetic or theory; or no source.
    """

    source: str
    standing: Standing
    on: On = "none"


@dataclass(frozen=True, slots=True)
class ProfileRow:
    """Section of a typical adult bone at a fraction of its length from the proximal end.

    ``depth_mm`` is measured along the bone's ``depth_axis``, ``width_mm`` across that; ``cortex_mm`` is the wall.
    """

    fraction: float
    depth_mm: float
    width_mm: float
    cortex_mm: float


@dataclass(frozen=True, slots=True)
class Stretch:
    """A stretch of shaft, measured from one end of the bone, what is asked along it, and where that comes from."""

    name: str
    end: Literal["proximal", "distal"]
    from_mm: float
    to_mm: float
    advice: str
    figure: Figure


@dataclass(frozen=True, slots=True)
class AtRisk(Stretch):
    """A nerve or vessel near the plate, the stretch that it crosses, and the bone's ``surfaces`` where it is met."""

    surfaces: tuple[Surface, ...]


@dataclass(frozen=True, slots=True)
class JointToCheck(Stretch):
    """A joint that is often hurt with a fracture on the stretch.

    ``alone``: only where this bone of the limb is the only one broken.
    """

    alone: bool


@dataclass(frozen=True, slots=True)
class Alternative:
    """Another treatment that is usual for this bone's shaft."""

    text: str
    figure: Figure


@dataclass(frozen=True, slots=True)
class Arc:
    """A stretch of shaft, in fractions of the bone's length, that curves with a radius; negative: the other way."""

    start: float
    end: float
    radius_mm: float


@dataclass(frozen=True, slots=True)
class Bow:
    """How the shaft curves in one plane: in arcs whose tops point to ``apex``, or away from it where negative."""

    apex: Direction
    arcs: tuple[Arc, ...]
    figure: Figure


@dataclass(frozen=True, slots=True)
class Tension:
    """Whether one surface of a shaft is in tension or in compression as the limb is loaded, and where that comes from.

    ``varies``: it is not fixed; ``not known``: no source was found that says it.
    """

    word: InTension
    figure: Figure


@dataclass(frozen=True, slots=True)
class Minimum:
    """Least hold per main fragment for one principle: screws, cortices, and holes of plate over the fragment."""

    screws: int
    cortices: int
    holes: int
    figure: Figure


@dataclass(frozen=True, slots=True)
class BoneSpec:
    """A generic adult bone.

    ``distally`` is the direction in which the shaft runs from its proximal end, with the body upright and the palms
    forwards, and ``depth_axis`` that in which the depth of its profile was measured. ``bows`` are the planes in which
    the shaft curves; in others it is straight enough to ignore. ``tension`` tells it of every surface that is offered.
    ``shaft`` are the fractions of its length between which a straight shaft plate belongs. ``minima`` are keyed by
    principle. Between the fractions ``short_tips`` vessels or pleura lie close behind its far cortex.
    """

    name: str
    label: str
    code_prefix: str
    length_mm: float
    length_range_mm: tuple[float, float]
    depth_range_mm: tuple[float, float]
    profile: tuple[ProfileRow, ...]
    distally: Direction
    depth_axis: Axis
    shaft: tuple[float, float]
    torsion_loaded: bool
    usual_series: tuple[str, ...]
    tension: dict[Surface, Tension]
    minima: dict[str, Minimum]
    at_risk: tuple[AtRisk, ...]
    figures: dict[str, Figure] = field(default_factory=dict)
    joints: tuple[JointToCheck, ...] = ()
    bows: tuple[Bow, ...] = ()
    alternative: Alternative | None = None
    short_tips: tuple[float, float] | None = None


@dataclass(frozen=True, slots=True)
class Quality:
    """Bone quality: factors on cortex thickness and on the modulus of cortical bone."""

    key: str
    label: str
    cortex_factor: float
    modulus_factor: float
    figure: Figure


@dataclass(frozen=True, slots=True)
class Material:
    """An implant metal. Fatigue strength is the stress amplitude at 1e7 cycles at the stated load ratio R."""

    key: str
    label: str
    modulus_mpa: float
    poisson: float
    yield_mpa: float
    ultimate_mpa: float
    fatigue_mpa: float
    fatigue_load_ratio: float
    figures: dict[str, Figure] = field(default_factory=dict)

    @property
    def shear_modulus_mpa(self) -> float:
        """G = E / (2 (1 + ν)), MPa."""
        return self.modulus_mpa / (2 * (1 + self.poisson))


@dataclass(frozen=True, slots=True)
class ScrewSpec:
    """A generic screw. ``stock_mm`` are the lengths made; a locking screw has no gliding drill and a torque limit."""

    key: str
    label: str
    kind: ScrewKind
    thread_mm: float
    core_mm: float
    pitch_mm: float
    head_mm: float
    thread_drill_mm: float
    gliding_drill_mm: float | None
    tap_mm: float | None
    drive: str
    torque_nm: float | None
    stock_mm: tuple[float, ...]
    material: str
    figures: dict[str, Figure] = field(default_factory=dict, hash=False)


@dataclass(frozen=True, slots=True)
class PlateSeries:
    """A generic straight plate. Holes lie ``pitch_mm`` apart, the two beside the middle ``centre_spacing_mm``.

    ``end_mm`` is from the last hole's centre to the plate's end, ``seat_mm`` the length of screw that the plate takes
    up, ``hole_mm`` the net width of a hole across the plate, ``slot_mm`` its length along it (equal for round holes;
    dynamic holes have ramps, oval ones none). ``travel_mm`` is how far one eccentric screw shifts its fragment (0:
    none), ``reach_deg`` how far a cortex screw may lean along the plate. ``stagger_mm`` is how far each hole lies off
    the plate's middle line, neighbours to opposite sides (0: all on it).
    """

    key: str
    label: str
    width_mm: float
    thickness_mm: float
    pitch_mm: float
    centre_spacing_mm: float
    end_mm: float
    seat_mm: float
    hole_kind: HoleKind
    hole_mm: float
    slot_mm: float
    travel_mm: float
    reach_deg: float
    holes_made: tuple[int, ...]
    cortex_screw: str
    locking_screw: str | None
    material: str
    stagger_mm: float = 0.0
    figures: dict[str, Figure] = field(default_factory=dict, hash=False)

    def roles(self) -> tuple[str, ...]:
        """Roles that a hole of this plate can take, in the order in which a tap cycles them."""
        eccentric = ("eccentric",) if self.travel_mm > 0 else ()
        locking = ("locking-2", "locking-1") if self.locking_screw else ()
        return ("empty", "neutral", *eccentric, "lag", *locking)


@dataclass(frozen=True, slots=True)
class Catalogue:
    """Everything, by key."""

    bones: dict[str, BoneSpec]
    series: dict[str, PlateSeries]
    screws: dict[str, ScrewSpec]
    materials: dict[str, Material]
    qualities: dict[str, Quality]
    bone_modulus_mpa: float
    bone_poisson: float
    bone_shear_strength_mpa: float
    figures: dict[str, Figure] = field(default_factory=dict)
