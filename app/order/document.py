"""Steps as plain values for the assessment document."""

from pydantic import with_config
from typing_extensions import TypedDict

from app.case.closed import CLOSED
from app.order.corrections import Room
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
class StepDocument(TypedDict):
    """One step of the order; ``screw`` and ``hole`` are null for steps without one."""

    step: int
    kind: Kind
    what: str
    screw: str | None
    hole: int | None
    label: str | None
    stock_length_mm: float | None
    drills: list[DrillDocument]
    tap_mm: float | None
    depth_mm: float | None
    tightness: str | None
    torque_nm: float | None
    why: str
    correctable: CorrectableDocument


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
        "tap_mm": step.tap_mm,
        "depth_mm": None if step.depth_mm is None else round(step.depth_mm, 1),
        "tightness": step.tightness,
        "torque_nm": step.torque_nm,
        "why": step.why,
        "correctable": {
            "length": step.correctable.length,
            "rotation": step.correctable.rotation,
            "axis": step.correctable.axis,
        },
    }
