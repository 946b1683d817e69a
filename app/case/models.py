"""The case file ``fishplate-case/2``: its only definition in code; older files are read too (``app.case.upgrade``).

Lengths in mm, angles in degrees. Every model is frozen and refuses unknown keys. Only what can be judged without the
catalogue is checked here; whether a plate is made with so many holes, or lies on the bone, is checked in
``app.geometry.limits``.
"""

import unicodedata
from typing import Annotated, Literal

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, StringConstraints, field_validator, model_validator

from app.case.codes import parse_code
from app.case.plain_text import BIDI_CONTROL, NAME_LENGTH, TITLE_LENGTH, fault_of_line, fault_of_note
from app.case.upgrade import upgraded

BoneName = Literal["clavicle", "humerus", "radius", "ulna", "femur", "tibia", "fibula"]
BoneQuality = Literal["normal", "reduced", "poor"]
Principle = Literal["compression", "protection", "bridging"]
Role = Literal["empty", "neutral", "eccentric", "lag", "locking-2", "locking-1"]
Side = Literal["near", "far"]
BodySide = Literal["left", "right"]
Winding = Literal["left", "right"]  # like the thread of a left-handed or a right-handed screw
Surface = Literal["anterior", "anterolateral", "posterior", "lateral", "medial", "superior"]

ROLES: tuple[Role, ...] = ("empty", "neutral", "eccentric", "lag", "locking-2", "locking-1")
BONES: tuple[BoneName, ...] = ("clavicle", "humerus", "radius", "ulna", "femur", "tibia", "fibula")
FOREARM: frozenset[BoneName] = frozenset({"radius", "ulna"})
# The surfaces of its shaft that each bone offers to a plate, the usual one first (common practice, no source).
SURFACES: dict[BoneName, tuple[Surface, ...]] = {
    "clavicle": ("superior", "anterior"),
    "humerus": ("anterolateral", "posterior"),
    "radius": ("anterior", "posterior", "lateral"),
    "ulna": ("posterior", "anterior"),
    "femur": ("lateral",),
    "tibia": ("medial", "lateral"),
    "fibula": ("lateral", "posterior"),
}
FORMAT = "fishplate-case/2"
MAX_CONSTRUCTS = 4
MAX_LINES = 4
MAX_HOLES = 24
MAX_ACKNOWLEDGED = 60
MAX_WHATIFS = 200
SHORTEST_WEDGE_MM, LONGEST_WEDGE_MM = 5, 120
MOST_KEYS = 30  # of one part; three times as many as any has

Position = Annotated[float, Field(ge=0, le=700)]
SeriesKey = Annotated[str, StringConstraints(pattern=r"^[a-z0-9][a-z0-9.\-]{0,59}$")]
ScrewId = Annotated[str, StringConstraints(pattern=r"^[hs][1-9][0-9]?$")]
RuleId = Annotated[str, StringConstraints(pattern=r"^[a-z][a-z-]{0,39}$")]
# Parts of a construct by their names, a blank between each two.
Subject = Annotated[str, StringConstraints(pattern=r"^[a-z][a-z0-9-]{0,39}( [a-z][a-z0-9-]{0,39}){0,39}$")]


def _is_empty(value: tuple[object, ...]) -> bool:
    return not value


def _as_set(value: tuple["PutAway", ...]) -> tuple["PutAway", ...]:
    return tuple(sorted(set(value), key=lambda one: (one.rule, one.subject or "")))


def _plain_line(value: str) -> str:
    fault = fault_of_line(value.strip())
    if fault is not None:
        raise ValueError(fault)
    return value.strip()


def _note(value: str) -> str:
    fault = fault_of_note(value)
    if fault is not None:
        raise ValueError(fault)
    return value


# What a schema can say of free text.
LINE_PATTERN = f"^[^<>{BIDI_CONTROL.pattern[1:-1]}]*$"
NOTE_PATTERN = f"^[^{BIDI_CONTROL.pattern[1:-1]}]*$"


Title = Annotated[
    str,
    Field(
        min_length=1,
        max_length=TITLE_LENGTH,
        description="One line of plain text, with at least one character that can be seen.",
        json_schema_extra={"pattern": LINE_PATTERN},
    ),
    AfterValidator(_plain_line),
]
Note = Annotated[
    str,
    Field(
        max_length=4000,
        description="Plain text of one line or several.",
        json_schema_extra={"pattern": NOTE_PATTERN},
    ),
    AfterValidator(_note),
]


def whatif_name(value: str) -> str:
    """The name of a what-if as it is kept: composed letters, no blanks around it.

    Raises:
        ValueError: longer than 60 characters, or not one line of plain text that can be seen.
    """
    kept = unicodedata.normalize("NFC", _plain_line(value))
    if len(kept) > NAME_LENGTH:
        message = f"must have 1 to {NAME_LENGTH} characters"
        raise ValueError(message)
    return kept


class Document(BaseModel):
    """Base of every part of the case: frozen, closed, finite numbers only."""

    # Edits copy parts without checking them; checking instances again makes the document's own validation the judge.
    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False, revalidate_instances="always")

    @model_validator(mode="before")
    @classmethod
    def _few_keys(cls, value: object) -> object:
        # Each unknown key is a fault of its own: a megabyte of them took seconds to tell, and nobody reads them.
        if isinstance(value, dict) and len(value) > MOST_KEYS:
            message = f"{len(value)} entries are too many; known are {', '.join(cls.model_fields)}"
            raise ValueError(message)
        return value


class PutAway(Document):
    """A note that was put away: its rule, and what it is about (null: whatever that is)."""

    rule: RuleId
    subject: Subject | None = None


# Notes put away are a set, so that it doesn't matter in which order they were.
Acknowledged = Annotated[
    tuple[PutAway, ...],
    Field(max_length=MAX_ACKNOWLEDGED, exclude_if=_is_empty),
    AfterValidator(_as_set),
]


def bone_title(name: str, side: str | None) -> str:
    """A bone in words: ``Left humerus``, or ``Humerus`` where the side is not said."""
    return f"{side or ''} {name}".strip().capitalize()


class Bone(Document):
    """Which bone, of which side of the body, and its size where the patient's is known (else a typical adult's).

    ``midshaft_depth_mm`` is a diameter of the bone itself, wherever the plate lies: of humerus, radius and ulna from
    front to back, of femur, tibia and fibula from side to side, of the clavicle from top to bottom.
    """

    name: BoneName
    side: BodySide | None = None
    length_mm: float | None = Field(default=None, ge=50, le=650)
    midshaft_depth_mm: float | None = Field(default=None, ge=5, le=50)

    @property
    def title(self) -> str:
        """The bone in words: ``Left humerus``, or ``Humerus`` where the side is not said."""
        return bone_title(self.name, self.side)


class FractureLine(Document):
    """One fracture line, by its place on the axis, its obliquity, and the length of shaft without load-bearing bone.

    ``turn_deg`` is how far the plane of the line is turned about the shaft: at 0 the profile shows all of its
    obliquity, at 90 the view of the plate's face does. ``spiral`` says that it winds round the shaft, and which way;
    obliquity and turn are then those of the plane that lies nearest to it.
    """

    position_mm: Position
    obliquity_deg: float = Field(default=0, ge=-75, le=75)
    turn_deg: float = Field(default=0, ge=-90, le=90)
    spiral: Winding | None = None
    zone_mm: float = Field(default=0, ge=0, le=250)


class Wedge(Document):
    """A third piece on one side of one line; ``length_mm`` is measured along the cortex."""

    side: Side
    length_mm: float = Field(ge=SHORTEST_WEDGE_MM, le=LONGEST_WEDGE_MM)
    line: int = Field(default=0, ge=0, lt=MAX_LINES)


class Fracture(Document):
    """Fracture lines from proximal to distal, the gap left after reduction, and a wedge if there is one."""

    code: str | None = None
    lines: tuple[FractureLine, ...] = Field(min_length=1, max_length=MAX_LINES)
    gap_mm: float = Field(default=0, ge=0, le=20)
    wedge: Wedge | None = None

    @field_validator("code")
    @classmethod
    def _code_exists(cls, value: str | None) -> str | None:
        return None if value is None else parse_code(value).text

    @model_validator(mode="after")
    def _lines_in_order(self) -> "Fracture":
        for proximal, distal in zip(self.lines, self.lines[1:], strict=False):
            room = distal.position_mm - distal.zone_mm / 2 - proximal.position_mm - proximal.zone_mm / 2
            if room <= self.gap_mm:
                message = "lines must be ordered from proximal to distal, without overlap of their zones"
                raise ValueError(message)
        if self.wedge is not None and self.wedge.line >= len(self.lines):
            message = f"wedge.line must be 0 to {len(self.lines) - 1}"
            raise ValueError(message)
        return self


class Plate(Document):
    """Plate series, number of holes, where its centre lies along the shaft, and on which surface of it.

    ``surface`` is one of those that the bone offers (``SURFACES``); null stands for the usual one. Obliquity, wedge and
    screws are told as the plate sees them: another surface shows the bone from there, and turns none of them.
    """

    series: SeriesKey
    surface: Surface | None = None
    holes: int = Field(ge=2, le=MAX_HOLES)
    centre_mm: Position
    standoff_mm: float = Field(default=0, ge=0, le=20)
    prebend_mm: float = Field(default=0, ge=0, le=10)


class Hole(Document):
    """What goes into one hole. A positive tilt leans the tip distally; it counts for cortex screws."""

    role: Role = "empty"
    tilt_deg: float = Field(default=0, ge=-45, le=45)


class LagScrew(Document):
    """An independent lag screw, beside the plate: where it enters the near cortex, its tilt, and which screw it is.

    ``turn_deg`` is its own direction about the shaft: at 0 it lies in the plane of the profile, at 180 it enters from
    the far side.
    """

    position_mm: Position
    tilt_deg: float = Field(default=0, ge=-75, le=75)
    turn_deg: float = Field(default=0, ge=-180, le=180)
    screw: SeriesKey = "cortex-3.5"


class Construct(Document):
    """One bone with its fracture, plate and screws; ``acknowledged`` are the notes on it that are put away."""

    bone: Bone
    fracture: Fracture
    principle: Principle
    plate: Plate
    holes: tuple[Hole, ...] = Field(min_length=2, max_length=MAX_HOLES)
    lag_screws: tuple[LagScrew, ...] = Field(default=(), max_length=6)
    order: Annotated[tuple[ScrewId, ...], Field(fail_fast=True)] | None = None  # it has no length of its own to end at
    acknowledged: Acknowledged = ()

    @model_validator(mode="after")
    def _parts_agree(self) -> "Construct":
        if len(self.holes) != self.plate.holes:
            message = f"holes has {len(self.holes)} entries, but plate.holes is {self.plate.holes}"
            raise ValueError(message)
        if self.order is not None and sorted(self.order) != sorted(self.screw_ids):
            message = f"order must name each placed screw once: {', '.join(self.screw_ids) or 'none is placed'}"
            raise ValueError(message)
        offered = SURFACES[self.bone.name]
        if self.plate.surface is not None and self.plate.surface not in offered:
            message = f"plate.surface of a {self.bone.name} must be one of: {', '.join(offered)}"
            raise ValueError(message)
        return self

    @property
    def surface(self) -> Surface:
        """The surface that the plate lies on: the one said, or else the bone's usual one."""
        return self.plate.surface or SURFACES[self.bone.name][0]

    @property
    def on_surface(self) -> str:
        """Where the plate lies, in words: ``on the lateral surface``, and that it is the usual one if none is said."""
        said = "" if self.plate.surface is not None else ", the usual one, as none is said"
        return f"on the {self.surface} surface{said}"

    @property
    def screw_ids(self) -> tuple[str, ...]:
        """Ids of all placed screws: ``h1`` … for holes, ``s1`` … for independent lag screws."""
        filled = (f"h{n}" for n, hole in enumerate(self.holes, 1) if hole.role != "empty")
        return (*filled, *(f"s{n}" for n in range(1, len(self.lag_screws) + 1)))


class KeptConstruct(Document):
    """A what-if as it travels in a file: a variant of the construct in the place ``target``, under a name."""

    name: Annotated[
        str,
        Field(min_length=1, max_length=NAME_LENGTH, json_schema_extra={"pattern": LINE_PATTERN}),
        AfterValidator(whatif_name),
    ]
    target: int = Field(default=0, ge=0, lt=MAX_CONSTRUCTS)
    value: Construct


class Case(Document):
    """One patient problem: one or more constructs, done in an order. No patient identifiers.

    ``acknowledged`` are the notes on the case as a whole that are put away. ``whatifs`` are there in files only; the
    program keeps them beside the case.
    """

    format: Literal["fishplate-case/2"]
    title: Title
    note: Note = ""
    bone_quality: BoneQuality = "normal"
    constructs: tuple[Construct, ...] = Field(min_length=1, max_length=MAX_CONSTRUCTS)
    acknowledged: Acknowledged = ()
    whatifs: Annotated[tuple[KeptConstruct, ...], Field(max_length=MAX_WHATIFS, exclude_if=_is_empty)] = ()

    @model_validator(mode="before")
    @classmethod
    def _of_today(cls, value: object) -> object:
        return upgraded(value)

    @field_validator("whatifs")
    @classmethod
    def _named_apart(cls, value: tuple[KeptConstruct, ...]) -> tuple[KeptConstruct, ...]:
        names = [(one.target, one.name) for one in value]
        for place, name in enumerate(names):
            if name in names[:place]:
                message = f"two what-ifs of construct {name[0]} are named {name[1]}"
                raise ValueError(message)
        return value
