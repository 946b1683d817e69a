"""Steps as plain values for the assessment document."""

from pydantic import with_config
from typing_extensions import TypedDict

from app.case.closed import CLOSED
from app.order.corrections import Correctable, Room, line_names
from app.order.steps import Guide, Kind, Step


@with_config(CLOSED)
class DrillDocument(TypedDict):
    """One drill bit and how it is guided."""

    diameter_mm: float
    guide: Guide


@with_config(CLOSED)
class CorrectableDocument(TypedDict):
    """What can still be corrected after a step."""

    length: Room
    rotation: Room
    axis: Room


@with_config(CLOSED)
class LineCorrectableDocument(CorrectableDocument):
    """What can still be corrected at one fracture line after a step."""

    line: int
    name: str


@with_config(CLOSED)
class StepDocument(TypedDict):
    """One step of the order; ``screw`` and ``hole`` are null for steps without one.

    ``tap_mm`` is not for self-tapping screws. ``correctable`` is that of the line held least, ``correctable_at`` names
    each line, from proximal to distal.
    """

    step: int
    kind: Kind
    what: str
    screw: str | None
    hole: int | None
    label: str | None
    stock_length_mm: float | None
    drills: list[DrillDocument]
    countersink: bool
    tap_mm: float | None
    depth_mm: float | None
    tightness: str | None
    torque_nm: float | None
    why: str
    correctable: CorrectableDocument
    correctable_at: list[LineCorrectableDocument]


def order_document(steps: tuple[Step, ...]) -> list[StepDocument]:
    """The ``order`` part of an assessment, one entry per step: lengths in mm (the depth to 0.1 mm), torque in N·m."""
    return [_step_document(step) for step in steps]


def _step_document(step: Step) -> StepDocument:
    return {
        "step": step.number,
        "kind": step.kind,
        "what": step.what,
        "screw": step.screw,
        "hole": step.hole,
        "label": step.label,
        "stock_length_mm": step.stock_length_mm,
        "drills": [{"diameter_mm": drill.diameter_mm, "guide": drill.guide} for drill in step.drills],
        "countersink": step.countersink,
        "tap_mm": step.tap_mm,
        "depth_mm": None if step.depth_mm is None else round(step.depth_mm, 1),
        "tightness": step.tightness,
        "torque_nm": step.torque_nm,
        "why": step.why,
        "correctable": _room_document(step.correctable),
        "correctable_at": [
            {"line": index, "name": name, **_room_document(room)}
            for index, (name, room) in enumerate(zip(line_names(len(step.lines)), step.lines, strict=True))
        ],
    }


def _room_document(room: Correctable) -> CorrectableDocument:
    return {"length": room.length, "rotation": room.rotation, "axis": room.axis}
