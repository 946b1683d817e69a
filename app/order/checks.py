"""What is checked once the last screw is in, while it can still be mended.

Standing: common practice, no source; for the ankle above a broken fibula: StatPearls 2023, fibula and ankle fractures.
"""

from dataclasses import dataclass

from app.case.models import FOREARM
from app.geometry import Layout


@dataclass(frozen=True, slots=True)
class Check:
    """One check: what is done, and why."""

    what: str
    why: str


_LATE = "Later it can't be mended without taking screws out: it is seen now, before the wound is closed."
_TURNS = Check(
    "Turn the forearm through full pronation and supination: free and without catching, and the radio-ulnar joints at "
    "wrist and elbow stay in place.",
    "A bow or a rotation that is lost, or a tip that stands out, blocks it; a joint that slips is treated by itself.",
)
_AGAINST_OTHER_SIDE = {
    "clavicle": Check("Check length and axis against the other side.", _LATE),
    "fibula": Check(
        "Check rotation, length and axis: the ankle mortise is even all round, as on the other side; test the "
        "syndesmosis.",
        "A short or turned fibula opens the mortise, and a torn syndesmosis isn't held by the plate.",
    ),
}
_ELSEWHERE = Check("Check rotation, length and axis: compare with the other side.", _LATE)
_IMAGE = Check(
    "Image in two planes, the whole plate and both neighbouring joints: fracture, axis, plate on the bone, and each "
    "screw’s length and tip.",
    "One plane alone hides a step, a gap, and a screw that is too long or lies beside the bone.",
)


def final_checks(layout: Layout) -> tuple[Check, ...]:
    """The checks of one bone, in their order."""
    name = layout.construct.bone.name
    forearm = (_TURNS,) if name in FOREARM else ()
    return (_AGAINST_OTHER_SIDE.get(name, _ELSEWHERE), _IMAGE, *forearm)
