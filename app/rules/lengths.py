"""Screw lengths: is one made that is long enough, and how far does the tip stand out?"""

from collections.abc import Iterator

from app.geometry import ScrewPath
from app.geometry.screws import CANAL_REACH_MM
from app.rules.edits import listed
from app.rules.facts import named
from app.rules.registry import Finding, Registry, RuleInput

LENGTH_RULES = Registry()
ROUNDING_MM = 0.05  # lengths are told to a tenth; what rounds to the limit keeps it


def tip_beyond_mm(judged: RuleInput, screw: ScrewPath) -> float:
    """How far the stocked screw's tip passes the far surface, mm; for a one-cortex screw, the far wall's inside."""
    if screw.stock_length_mm is None:
        return 0.0
    spare = screw.stock_length_mm - screw.length_mm
    if screw.role != "locking-1":
        return spare + judged.thresholds.value("screw-length", "tip_mm")
    shape = judged.layout.shape
    return spare + CANAL_REACH_MM - (shape.depth(screw.s_mm) - 2 * shape.cortex(screw.s_mm))


@LENGTH_RULES.rule(
    "screw-length",
    "note",
    says="A screw is made that reaches through the far cortex, and its tip stands out no more than 2 mm.",
    why="A screw too short has no thread in the far cortex; a tip that stands out frets at muscle, nerve or vessel. "
    "Lengths are made in steps, so that some excess can't be helped.",
    source="AO Surgery Reference, tibial shaft, lag screw outside the plate: 1 to 2 mm beyond the far cortex",
    standing="handbook",
    on="humans",
)
def screw_length(judged: RuleInput) -> Iterator[Finding]:
    """Screws that aren't made long enough (caution), and tips that stand out (one note for all)."""
    for screw in judged.layout.screws:
        if screw.stock_length_mm is None:
            made = max(screw.spec.stock_mm)
            message = (
                f"The screw in {named(screw)} needs {screw.length_mm:.1f} mm, but the longest {screw.spec.label} "
                f"made is {made:g} mm: its thread ends short of the far cortex."
            )
            yield Finding(message, (screw.id,), "caution")
    most = judged.thresholds.value("screw-length", "tip_note_mm")
    tips = {screw.id: tip_beyond_mm(judged, screw) for screw in judged.layout.screws}
    # a one-cortex tip may go as far as the canal does
    limits = {screw.id: 0.0 if screw.role == "locking-1" else most for screw in judged.layout.screws}
    long = [name for name, tip in tips.items() if tip > limits[name] + ROUNDING_MM]
    if long:
        told = listed(f"{named(judged.layout.screw(name))} by {tips[name]:.1f} mm" for name in long)
        verb = "tip stands" if len(long) == 1 else "tips stand"
        message = (
            f"With the lengths made the {verb} out of the bone, or against the far wall: {told} (up to {most:g} mm "
            "is meant)."
        )
        yield Finding(message, tuple(long))
