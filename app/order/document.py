"""Steps as plain values for the assessment document."""

from typing import Any

from app.order.steps import Step


def order_document(steps: tuple[Step, ...]) -> list[dict[str, Any]]:
    """The ``order`` part of an assessment, one entry per step: lengths in mm (the depth to 0.1 mm), torque in N·m."""
    return [_step_document(step) for step in steps]


def _step_document(step: Step) -> dict[str, Any]:
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
