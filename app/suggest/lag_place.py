"""Where one more independent lag screw goes: a place that no rule objects to, or why there is none."""

from dataclasses import dataclass
from itertools import islice

from app.assess import Assessment, Knowledge, assess
from app.case.edits import AddLag, apply
from app.geometry import Line
from app.rules import LEVELS, RuleInput, Warning
from app.rules.facts import MAX_LAGS, lines_pressed
from app.rules.lag_search import lags_beside_plate
from app.rules.trial import can_be_pressed

MOST_JUDGED = 6  # of the places that press a line well; a rule that objects to these objects to the others
NOTE = LEVELS.index("note")
Known = dict[tuple[str, tuple[str, ...]], int]


@dataclass(frozen=True, slots=True)
class LagPlace:
    """The edit that adds the screw; None where there is no place, and then ``why`` is a sentence that says so."""

    edit: AddLag | None
    why: str = ""


def lag_place(assessment: Assessment, target: int, knowledge: Knowledge) -> LagPlace:
    """An independent lag screw that brings no new stop and no new caution."""
    one = assessment.constructs[target]
    if len(one.construct.lag_screws) >= MAX_LAGS:
        return _none(f"there are {MAX_LAGS} already.")
    judged = RuleInput(assessment.case, target, one.layout, one.summary, knowledge.catalogue, knowledge.thresholds)
    lines = [line for line in one.layout.fracture.lines if can_be_pressed(judged, line)]
    if not lines:
        return _none("across a zone without load-bearing bone it would press nothing.")
    known, objection = _known(assessment, target), ""
    for line in sorted(lines, key=lambda line: _pressed(judged, line)):
        for lag in islice(lags_beside_plate(judged, line), MOST_JUDGED):
            edit = AddLag(target=target, value=lag)
            after = assess(apply(assessment.case, edit), knowledge, mechanics=False)
            new = [one for one in _told(after, target) if LEVELS.index(one.level) < known.get(_key(one), NOTE)]
            if not new:
                return LagPlace(edit)
            objection = objection or new[0].message
    if objection:
        return _none(f"where it would press the fracture well, there is an objection. {objection}")
    return _none("no size in stock presses the fracture squarely, with a sound rim and clear of the others.")


def _none(why: str) -> LagPlace:
    return LagPlace(None, f"No place for an independent lag screw: {why}")


def _pressed(judged: RuleInput, line: Line) -> bool:
    """Whether a lag screw presses this line already."""
    lags = (screw for screw in judged.layout.screws if screw.role == "lag")
    return any(line in lines_pressed(judged, screw) for screw in lags)


def _told(assessment: Assessment, target: int) -> tuple[Warning, ...]:
    return (*assessment.constructs[target].warnings, *assessment.warnings)


def _key(warning: Warning) -> tuple[str, tuple[str, ...]]:
    return warning.rule, warning.subject


def _known(assessment: Assessment, target: int) -> Known:
    """The gravest level at which each thing is told already."""
    known: Known = {}
    for warning in _told(assessment, target):
        known[_key(warning)] = min(LEVELS.index(warning.level), known.get(_key(warning), NOTE))
    return known
