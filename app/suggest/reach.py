"""How far an edit can go: a hand that pulls past what is possible stops there, and isn't thrown back."""

import math
from dataclasses import dataclass

from app.assess import Knowledge
from app.case import Case, Edit, InvalidCase, parse_edit
from app.case.edits import edit_document
from app.case.faults import Fault
from app.suggest.proposals import accepted, refusal


@dataclass(frozen=True, slots=True)
class Reach:
    """The field of an edit whose figure may stop on its way, and where that figure stands now (mm or degrees)."""

    field: str
    start: float


@dataclass(frozen=True, slots=True)
class Stop:
    """An edit that goes as far as it can, its figure there, and why it goes no further."""

    edit: Edit
    figure: float
    why: str


def stop_of(case: Case, edit: Edit, reach: Reach, knowledge: Knowledge) -> Stop | None:
    """Where an edit stops on its way, at worst where it began; None where it goes all the way, or can't be mended so.

    Whole numbers are tried, as handles move, between where the figure stands and the one wanted: by halving, so that of
    several places where it could stop it finds one.

    Raises:
        InvalidCase: the edit has no such field, or no number there.
    """
    why = refusal(case, edit, knowledge)
    if not why:
        return None
    document = edit_document(edit)
    wanted = _figure(document.get(reach.field), reach.field)
    way = 1 if wanted > reach.start else -1
    first = math.floor(reach.start) + 1 if way > 0 else math.ceil(reach.start) - 1
    found = parse_edit({**document, reach.field: reach.start})
    best = Stop(found, reach.start, why) if accepted(case, found, knowledge) else None
    near, far = 0, math.floor((wanted - first) * way)  # in steps from the first whole number on the way
    while near <= far:
        step = (near + far) // 2
        figure = float(first + way * step)
        found = parse_edit({**document, reach.field: figure})
        if accepted(case, found, knowledge):
            best, near = Stop(found, figure, why), step + 1
        else:
            far = step - 1
    return best


def _figure(value: object, field: str) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise InvalidCase((Fault(f"reach.{field}", "the edit has no number there"),))
    return float(value)
