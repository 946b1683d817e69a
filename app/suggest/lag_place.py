"""Where one more independent lag screw goes: a place that no rule objects to, or why there is none.

The search takes longer than all else that an edit asks for, so it waits until somebody asks for a screw.
"""

from dataclasses import dataclass
from itertools import islice

from app.assess import Assessment, Knowledge, assess
from app.case.edits import AddLag, apply
from app.geometry import Line
from app.geometry.fracture import WEDGE
from app.rules import LEVELS, RuleInput, Warning
from app.rules.facts import MAX_LAGS, lines_pressed
from app.rules.lag_search import lags_beside_plate
from app.rules.trial import can_be_pressed, has_wedge

MOST_JUDGED = 6  # of the places that press one thing well; a rule that objects to these objects to the others
NOTE = LEVELS.index("note")
Aim = tuple[Line, bool]  # a line; whether it is meant itself, not the wedge at it
Known = dict[tuple[str, tuple[str, ...]], int]


@dataclass(frozen=True, slots=True)
class LagPlace:
    """The edit that adds the screw; None where there is no place, and then ``why`` is a sentence that says so."""

    edit: AddLag | None
    why: str = ""


def lag_place(assessment: Assessment, target: int, knowledge: Knowledge) -> LagPlace:
    """An independent lag screw that brings no new stop and no new caution."""
    judged = _judged(assessment, target, knowledge)
    aims = _aims(judged)
    if isinstance(aims, LagPlace):
        return aims
    known, objection = _known(assessment, target), ""
    for line, main in sorted(aims, key=lambda aim: _pressed(judged, *aim)):
        for lag in islice(lags_beside_plate(judged, line, main=main), MOST_JUDGED):
            edit = AddLag(target=target, value=lag)
            after = assess(apply(assessment.case, edit), knowledge, mechanics=False, remedies=False)
            new = [one for one in _told(after, target) if LEVELS.index(one.level) < known.get(_key(one), NOTE)]
            if not new:
                return LagPlace(edit)
            objection = objection or new[0].message
    if objection:
        return _none(f"where it would press the fracture well, there is an objection. {objection}")
    return _none("no size in stock presses the fracture squarely, with a sound rim and clear of the others.")


def _none(why: str) -> LagPlace:
    return LagPlace(None, f"No place for an independent lag screw: {why}")


def no_lag_place(assessment: Assessment, target: int, knowledge: Knowledge) -> str:
    """Why no search is needed to know that there is no place; empty where there may be one."""
    aims = _aims(_judged(assessment, target, knowledge))
    return aims.why if isinstance(aims, LagPlace) else ""


def _judged(assessment: Assessment, target: int, knowledge: Knowledge) -> RuleInput:
    one = assessment.constructs[target]
    return RuleInput(assessment.case, target, one.layout, one.summary, knowledge.catalogue, knowledge.thresholds)


def _aims(judged: RuleInput) -> list[Aim] | LagPlace:
    """What a lag screw may press: each line, or its wedge and then the line beside that; or why there is nothing."""
    if len(judged.construct.lag_screws) >= MAX_LAGS:
        return _none(f"there are {MAX_LAGS} already.")
    lines = [line for line in judged.layout.fracture.lines if can_be_pressed(judged, line)]
    if not lines:
        return _none("across a zone without load-bearing bone it would press nothing.")
    return [(line, main) for line in lines for main in ((False, True) if has_wedge(judged, line) else (False,))]


def _pressed(judged: RuleInput, line: Line, main: bool) -> bool:
    """Whether a lag screw presses this already."""
    wedge = has_wedge(judged, line)
    lags = (screw for screw in judged.layout.screws if screw.role == "lag")
    held = (screw for screw in lags if line in lines_pressed(judged, screw))
    return any(not wedge or (WEDGE in screw.owners) != main for screw in held)


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
