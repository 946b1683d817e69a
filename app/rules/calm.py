"""Taking compression out of a construct whose principle does not ask for it."""

from app.case.edits import SetPrebend, SingleEdit
from app.case.models import Principle, Role
from app.geometry import ScrewPath
from app.rules.edits import role_edit
from app.rules.filling import best_empty_holes
from app.rules.hold import missed
from app.rules.registry import RuleInput
from app.rules.trial import holds_fragment


def unpulled(judged: RuleInput, principle: Principle) -> tuple[SingleEdit, ...]:
    """What takes compression out: no eccentric screw, no pre-bend."""
    edits: list[SingleEdit] = []
    for screw in judged.layout.screws:
        if screw.role == "eccentric" and screw.hole is not None:
            edits += _in_place_of(judged, screw, screw.hole, principle)
    if judged.construct.plate.prebend_mm:
        edits.append(SetPrebend(target=judged.target, prebend_mm=0.0))
    return tuple(edits)


def _in_place_of(judged: RuleInput, screw: ScrewPath, number: int, principle: Principle) -> list[SingleEdit]:
    """A screw that only holds; under a bridge none, if its fragment does without: a bridge wants free holes."""
    bridged = principle == "bridging"
    if bridged and not missed(judged, screw):
        return [role_edit(judged, number, "empty", 0.0)]
    role: Role = "locking-2" if bridged and judged.layout.series.locking_screw is not None else "neutral"
    names = [fragment.name for fragment in judged.layout.fracture.fragments]
    if not holds_fragment(judged, number, role) and screw.home in names:
        free = best_empty_holes(judged, names.index(screw.home), 1, role)
        if free:
            return [role_edit(judged, number, "empty", 0.0), role_edit(judged, free[0], role, 0.0)]
    return [role_edit(judged, number, role, 0.0)]
