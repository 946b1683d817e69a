"""One step of the operation plan, and what it takes to put in one screw; lengths in mm, torque in N·m."""

import math
from dataclasses import dataclass
from typing import Literal

from app.catalogue.models import ScrewSpec
from app.geometry import Bend, Layout
from app.order.contour import bend_words
from app.order.corrections import Correctable, loosest
from app.order.roles import Placed

Kind = Literal["reduce", "contour", "prebend", "hold", "insert", "loosen", "recheck", "tighten", "unwire", "check"]
Guide = Literal["neutral", "eccentric", "gliding", "centring sleeve", "locking sleeve"]


@dataclass(frozen=True, slots=True)
class Drill:
    """One drill bit and its guide; a gliding hole goes through the near cortex only.

    ``diameter_mm`` is the diameter of the bit (mm).
    """

    diameter_mm: float
    guide: Guide


@dataclass(frozen=True, slots=True)
class Step:
    """One step, in words and figures; what belongs to a screw is None or empty in steps without one.

    Attributes:
        number: number of the step, from 1.
        kind: what is done.
        what: the step in words.
        why: the reason for it.
        lines: what each fracture line still lets correct after it, from proximal to distal.
        screw: id of the screw (``h3``, ``s1``).
        hole: number of its hole, from 1; None too for a screw beside the plate.
        label: name of the screw.
        stock_length_mm: length of the screw to take (mm); None too where none is made that is long enough.
        drills: drill bits in the order of use.
        countersink: whether the bone is countersunk for the head, before the length is measured.
        tap_mm: diameter of the tap (mm); None where no tap is needed. Self-tapping screws need none.
        depth_mm: reading of the depth gauge, from the seat of the head to the outside of the last cortex (mm).
        tightness: how tight the screw is driven, in words; None where it is loosened.
        torque_nm: setting of the torque limiter (N·m); None where no locking screw is tightened, or no torque is on
            file.
        bends: the bends to make where the plate is contoured; empty in other steps.
    """

    number: int
    kind: Kind
    what: str
    why: str
    lines: tuple[Correctable, ...]
    screw: str | None = None
    hole: int | None = None
    label: str | None = None
    stock_length_mm: float | None = None
    drills: tuple[Drill, ...] = ()
    countersink: bool = False
    tap_mm: float | None = None
    depth_mm: float | None = None
    tightness: str | None = None
    torque_nm: float | None = None
    bends: tuple[Bend, ...] = ()

    @property
    def told(self) -> str:
        """The step in words, with its bends where nothing lists them."""
        bends = bend_words(self.bends)
        return f"{self.what} Bends: {bends}." if bends else self.what

    @property
    def correctable(self) -> Correctable:
        """What the fracture line that is held least still allows."""
        return loosest(self.lines)


def drills_for(one: Placed) -> tuple[Drill, ...]:
    """Drill bits in the order of use: the gliding hole of a lag screw comes before its thread hole."""
    spec = one.screw.spec
    if one.function == "lag":
        gliding = spec.thread_mm if spec.gliding_drill_mm is None else spec.gliding_drill_mm
        return Drill(gliding, "gliding"), Drill(spec.thread_drill_mm, "centring sleeve")
    guides: dict[str, Guide] = {"fix": "neutral", "compress": "eccentric", "lock": "locking sleeve"}
    return (Drill(spec.thread_drill_mm, guides[one.function]),)


def is_countersunk(one: Placed) -> bool:
    """Whether the head of a screw lies on bone: that of an independent lag screw.

    Common practice, no source; by hand and not too deep: AO Surgery Reference, hand.
    """
    return one.screw.hole is None


def expected_depth(layout: Layout, one: Placed) -> float | None:
    """Reading of the depth gauge (mm); None for a unicortical screw, whose length is chosen and not measured."""
    screw = one.screw
    if screw.role == "locking-1":
        return None
    seat = 0.0 if screw.hole is None else layout.series.seat_mm / math.cos(math.radians(screw.tilt_deg))
    return seat + math.dist(screw.head, screw.tip)


def place(one: Placed) -> str:
    """Where a screw goes, in words."""
    return f"hole {one.screw.hole}" if one.screw.hole is not None else f"independent lag screw {one.id[1:]}"


def places(one: Placed, other: Placed) -> str:
    """Where a pair of screws in the plate goes, in words."""
    return f"holes {one.screw.hole} and {other.screw.hole}"


COUNTERSINK = "countersink by hand, not too deep"
TAP_LIMIT = "not for self-tapping screws"


def tap_words(tap_mm: float) -> str:
    """The tap in words."""
    return f"tap {tap_mm:g}, {TAP_LIMIT}"


def limiter_words(spec: ScrewSpec) -> str:
    """The torque limiter of a locking screw in words; a remembered figure is said to be one."""
    if spec.torque_nm is None:
        return "torque limiter of its own set, no figure on file"
    unsure = spec.figures["torque_nm"].standing in ("from memory", "assumed")
    return f"torque limiter {spec.torque_nm:g} N·m{' (from memory: check its maker’s figure)' if unsure else ''}"


def torque_words(spec: ScrewSpec) -> str:
    """How tight a locking screw is driven, in words.

    Sources: Am J Orthop 2016;45:E114-8, a limiter driven fast lets through a multiple of its figure; J Orthop Surg Res
    2016, s13018-016-0458-y, power may be used if every screw is then tightened by hand.
    """
    return f"{limiter_words(spec)}, slowly, one click; last turns by hand"
