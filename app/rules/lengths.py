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
    """How far the tip of the screw to take passes the far surface, mm, negative where it ends short of it.

    For a unicortical screw it is how far it passes the inside of the far wall.
    """
    if screw.stock_length_mm is None:
        return 0.0
    spare = screw.stock_length_mm - screw.length_mm
    if screw.role != "locking-1":
        return spare
    shape = judged.layout.shape
    return spare + CANAL_REACH_MM - (shape.depth(screw.s_mm) - 2 * shape.cortex(screw.s_mm))


@LENGTH_RULES.rule(
    "screw-length",
    "note",
    says="A length is made that reaches the far surface and stands out no more than 2 mm; if none is, a shorter one "
    "that keeps a full thread in the far cortex. In a staggered hole the bone is a little less deep: an oval section.",
    why="A screw too short has no thread in the far cortex; a tip that stands out frets at muscle, nerve or vessel. "
    "Driven further than 1 mm past the surface a self-tapping screw holds no better.",
    source="AO Surgery Reference, tibial shaft, lag screw outside the plate: 1 to 2 mm beyond the far cortex; bench, "
    "90 self-tapping screws: no gain past 1 mm (Am J Orthop)",
    standing="handbook",
    on="humans",
)
def screw_length(judged: RuleInput) -> Iterator[Finding]:
    """Screws that aren't made long enough (caution), and those of which no made length fits (one note for all)."""
    for screw in judged.layout.screws:
        if screw.stock_length_mm is None:
            made = max(screw.spec.stock_mm)
            who = f"screw in {named(screw)}" if screw.hole is not None else named(screw)
            message = (
                f"The {who} needs {screw.length_mm:.1f} mm, but the longest {screw.spec.label} "
                f"made is {made:g} mm: its thread ends short of the far cortex."
            )
            yield Finding(message, (screw.id,), "caution")
    most = judged.thresholds.value("screw-length", "tip_note_mm")
    tips = {screw.id: tip_beyond_mm(judged, screw) for screw in judged.layout.screws}
    # a unicortical tip may go as far as the canal does
    limits = {screw.id: 0.0 if screw.role == "locking-1" else most for screw in judged.layout.screws}
    told = []
    ids = []
    for name, tip in tips.items():
        screw = judged.layout.screw(name)
        if tip > limits[name] + ROUNDING_MM:
            told.append(f"{named(screw)} stands out by {tip:.1f} mm")
        elif tip < -ROUNDING_MM and screw.role != "locking-1" and judged.layout.tips.at(screw.tip[0]) >= most:
            # near vessels the shorter one is taken on purpose, which the table of screws shows
            told.append(f"{named(screw)} ends {-tip:.1f} mm short of the far surface, its thread still in it")
        else:
            continue
        ids.append(name)
    if told:
        yield Finding(f"No length made fits well (flush to {most:g} mm beyond): {listed(told)}.", tuple(ids))
