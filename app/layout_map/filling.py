"""Which holes of a plate may be filled, and with what: what the map of layouts holds fixed."""

from dataclasses import dataclass, replace

from app.assess import Assessment, Knowledge
from app.case.edits import SetRole, Together
from app.case.models import Hole
from app.geometry import lay_out
from app.rules import RuleInput
from app.rules.facts import usual_role
from app.rules.trial import holds_fragment

MOST_HOLES = 16  # that may be filled or not: 65,536 layouts


class NoMapError(ValueError):
    """There is no map of this construct; the message is a sentence that says why."""


@dataclass(frozen=True, slots=True)
class Filling:
    """A construct with a screw in every hole that may be filled.

    Attributes:
        before: the construct as it is, as the rules see it.
        judged: the same with every screw in place.
        holes: numbers of the holes that may be filled, from proximal to distal.
        left_out: numbers of the holes that could be filled, too, and are left empty, as there are too many.
    """

    before: RuleInput
    judged: RuleInput
    holes: tuple[int, ...]
    left_out: tuple[int, ...]

    @property
    def now(self) -> frozenset[int]:
        """Numbers of the holes that are filled now."""
        return frozenset(n for n, hole in enumerate(self.before.construct.holes, 1) if hole.role != "empty")

    def edits(self, filled: frozenset[int]) -> tuple[SetRole, ...]:
        """What makes this layout of the construct as it is."""
        target, now = self.before.target, self.now
        changed = [(n, hole) for n, hole in enumerate(self.judged.construct.holes, 1) if (n in filled) != (n in now)]
        return tuple(
            SetRole(target=target, hole=n - 1, role=hole.role, tilt_deg=hole.tilt_deg)
            if n in filled
            else SetRole(target=target, hole=n - 1, role="empty")
            for n, hole in changed
        )

    def edit(self, filled: frozenset[int]) -> Together | None:
        """The same as one edit, under a name for the history; None where it is the layout as it is."""
        words = " ".join(str(number) for number in sorted(filled)) or "none"
        edits = self.edits(filled)
        return Together(label=f"Screws in holes {words}", edits=edits) if edits else None


def filling(assessment: Assessment, target: int, knowledge: Knowledge) -> Filling:
    """Each hole with the screw that it has; each empty one with the usual role, where that holds its fragment.

    Raises:
        NoMapError: there are too many screws.
    """
    before = next(one for one in assessment.judged if one.target == target)
    role = usual_role(before)
    now = [n for n, hole in enumerate(before.construct.holes, 1) if hole.role != "empty"]
    if len(now) > MOST_HOLES:
        message = f"A map of layouts takes up to {MOST_HOLES} screws in the plate; there are {len(now)}."
        raise NoMapError(message)
    lines = before.layout.fracture.lines
    empty = [n for n in range(1, len(before.construct.holes) + 1) if n not in now and holds_fragment(before, n, role)]
    places = {hole.number: hole.s_mm for hole in before.layout.holes}
    empty.sort(key=lambda n: min(abs(places[n] - line.position_mm) for line in lines))
    taken = frozenset([*now, *empty[: MOST_HOLES - len(now)]])
    holes = tuple(
        hole if hole.role != "empty" or n not in taken else Hole(role=role)
        for n, hole in enumerate(before.construct.holes, 1)
    )
    construct = before.construct.model_copy(update={"holes": holes})
    layout = lay_out(construct, before.case.bone_quality, knowledge.catalogue, knowledge.allowances)
    judged = replace(before, layout=layout, mechanics=None, trial=True)
    return Filling(before, judged, tuple(sorted(taken)), tuple(sorted(set(empty) - taken)))
