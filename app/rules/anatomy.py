"""The bone's own: its bow under the plate, and the nerves and vessels along it."""

from collections.abc import Iterator

from app.catalogue.models import AtRisk
from app.rules.edits import holes
from app.rules.registry import Finding, Registry, RuleInput

ANATOMY_RULES = Registry()


@ANATOMY_RULES.rule(
    "contour",
    "note",
    says="A plate along a bowed bone is bent to it where the bow lifts it more than a little.",
    why="A straight plate of length l on a bow of radius R stands off by l²/(8R). Pulled down unbent, it bends the "
    "bone.",
    source="geometry of a circular arc; radius of the bow from the bone table; limit assumed",
    standing="assumed",
    on="calculation",
)
def contour(judged: RuleInput) -> Iterator[Finding]:
    """Rise of the bow under the plate."""
    radius, rise = judged.layout.bone.bow_radius_mm, judged.layout.contour_mm
    limit = judged.thresholds.value("contour", "unbent_mm")
    if radius is not None and rise > limit:
        message = (
            f"The bow (radius {radius:.0f} mm) lifts {judged.layout.plate_length_mm:.0f} mm of straight plate by "
            f"{rise:.1f} mm: contour it (over {limit:g} mm)."
        )
        yield Finding(message, ("plate", "bone"))


def stretch_mm(judged: RuleInput, risk: AtRisk) -> tuple[float, float]:
    """The stretch of shaft that a structure crosses, as ``s`` from the proximal end, mm."""
    length = judged.layout.shape.length_mm
    return (risk.from_mm, risk.to_mm) if risk.end == "proximal" else (length - risk.to_mm, length - risk.from_mm)


@ANATOMY_RULES.rule(
    "structures-at-risk",
    "note",
    says="Nerves and vessels that this bone's plate reaches, with the published distances.",
    why="Where the plate reaches the stretch that a nerve or vessel crosses, it has to be found or kept away from.",
    source="cadaver and imaging series, each named in the bone table",
    standing="published",
    on="humans",
)
def structures_at_risk(judged: RuleInput) -> Iterator[Finding]:
    """Structures whose stretch the plate reaches or comes near."""
    near = judged.thresholds.value("structures-at-risk", "near_mm")
    start, end = judged.layout.plate_ends_mm
    for risk in judged.layout.bone.at_risk:
        low, high = stretch_mm(judged, risk)
        if start > high + near or end < low - near:
            continue
        numbers = [hole.number for hole in judged.layout.holes if low <= hole.s_mm <= high]
        where = f"under {holes(numbers)}" if numbers else "near the plate's end"
        message = (
            f"{risk.name[0].upper()}{risk.name[1:]} {where} ({risk.from_mm:g} to {risk.to_mm:g} mm from the "
            f"{risk.end} end). {risk.advice}"
        )
        yield Finding(message, ("plate",), None, None, f"{risk.figure.source} ({risk.figure.standing})")
