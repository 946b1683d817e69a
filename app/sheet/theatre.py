"""What is verified in theatre: before the first drill, and after the last screw (common practice, no source)."""

from typing import TYPE_CHECKING

from app.geometry import Layout
from app.order import Step, plan

if TYPE_CHECKING:
    from app.assess import ConstructAssessment

AT_RISK = "structures-at-risk"


def before_rows(one: "ConstructAssessment") -> list[str]:
    """What is verified before the first drill hole."""
    layout, plate = one.layout, one.construct.plate
    low, _ = layout.plate_ends_mm
    over = layout.holes_over_fracture
    lie = f"hole{'s' if len(over) > 1 else ''} {', '.join(map(str, over))}" if over else "no hole"
    steps = plan(layout)
    contoured = any(step.kind == "contour" for step in steps)
    return [
        f"Patient, side and bone are the right ones ({_limb(one)}), and the images are of this limb.",
        f"On the table: this plate with {plate.holes} holes, its screws, and what “If it goes wrong” asks for.",
        "Length, rotation and axis are reduced, by eye and on image.",
        f"The plate lies with {lie} over the fracture, its proximal end about {low:.0f} mm from that of the bone, both "
        f"ends on the middle of the bone{' and, contoured, on it without force' if contoured else ''}.",
        *_at_risk(one),
        *_first_hole(steps),
    ]


def _limb(one: "ConstructAssessment") -> str:
    bone = one.construct.bone
    return bone.title.lower() if bone.side else f"{bone.name}, of which side this plan does not say"


def _at_risk(one: "ConstructAssessment") -> list[str]:
    named = any(warning.rule == AT_RISK for warning in one.warnings)
    return ["The nerves and vessels named under the warnings are seen or kept clear of."] if named else []


def _first_hole(steps: tuple[Step, ...]) -> list[str]:
    first = next((step for step in steps if step.kind == "insert"), None)
    if first is None:
        return []
    where = f"hole {first.hole}" if first.hole is not None else "the independent lag screw"
    guides = ", then ".join(f"{drill.guide} {drill.diameter_mm:g}" for drill in first.drills)
    return [f"First drilled: {where} ({guides})."]


def check_rows(layout: Layout) -> list[str]:
    """What is checked after the last screw."""
    return [step.what for step in plan(layout) if step.kind == "check"]
