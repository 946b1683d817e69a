"""One step of the operation plan, and what it takes to put in one screw. Lengths in mm, torque in N·m."""

import math
from dataclasses import dataclass
from typing import Literal

from app.geometry import Layout
from app.order.corrections import Correctable
from app.order.roles import Placed

Kind = Literal["reduce", "contour", "prebend", "hold", "insert", "loosen", "recheck", "tighten"]
Guide = Literal["neutral", "eccentric", "gliding", "centring sleeve", "locking sleeve"]


@dataclass(frozen=True, slots=True)
class Drill:
    """One drill bit and how it is guided; a gliding hole goes through the near cortex only."""

    diameter_mm: float
    guide: Guide


@dataclass(frozen=True, slots=True)
class Step:
    """One step, in words and figures.

    ``screw`` is the screw's id (``h3``, ``s1``), None for steps without one; ``tap_mm`` None: no tap needed;
    ``depth_mm`` is what the depth gauge should read, from the screw head's seat to the outside of the last cortex.
    """

    number: int
    kind: Kind
    what: str
    why: str
    correctable: Correctable
    screw: str | None = None
    hole: int | None = None
    label: str | None = None
    stock_length_mm: float | None = None
    drills: tuple[Drill, ...] = ()
    tap_mm: float | None = None
    depth_mm: float | None = None
    tightness: str | None = None
    torque_nm: float | None = None


def drills_for(one: Placed) -> tuple[Drill, ...]:
    """Drill bits in the order of use: the gliding hole of a lag comes before its thread hole."""
    spec = one.screw.spec
    if one.function == "lag":
        gliding = spec.thread_mm if spec.gliding_drill_mm is None else spec.gliding_drill_mm
        return Drill(gliding, "gliding"), Drill(spec.thread_drill_mm, "centring sleeve")
    guides: dict[str, Guide] = {"fix": "neutral", "compress": "eccentric", "lock": "locking sleeve"}
    return (Drill(spec.thread_drill_mm, guides[one.function]),)


def expected_depth(layout: Layout, one: Placed) -> float | None:
    """Depth gauge reading, mm; None for a one-cortex screw, whose length is chosen, not measured."""
    screw = one.screw
    if screw.role == "locking-1":
        return None
    seat = 0.0 if screw.hole is None else layout.series.seat_mm / math.cos(math.radians(screw.tilt_deg))
    return seat + math.dist(screw.head, screw.tip)


def place(one: Placed) -> str:
    """Where a screw goes, in words."""
    return f"hole {one.screw.hole}" if one.screw.hole is not None else f"lag screw {one.id[1:]} beside the plate"


def torque_words(torque_nm: float | None) -> str:
    """How tight a locking screw is driven."""
    if torque_nm is None:
        return "torque limiter of its own set, no figure on file; last turns by hand"
    return f"torque limiter {torque_nm:g} N·m; last turns by hand"
