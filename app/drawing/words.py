"""A drawing in one sentence, for those who don't see it."""

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from app.assess import ConstructAssessment


def describe(one: "ConstructAssessment") -> str:
    """Bone, plate and screws in one sentence."""
    layout = one.layout
    construct = layout.construct
    lines = ", ".join(f"{line.position_mm:.0f} mm" for line in construct.fracture.lines)
    count = len(layout.screws)
    return (
        f"{construct.bone.title}, fracture at {lines} from the proximal end, {construct.plate.holes}-hole plate "
        f"({layout.series.label}) on the {construct.surface} surface, {count} {'screw' if count == 1 else 'screws'}"
    )
