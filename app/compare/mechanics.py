"""The mechanics' answers for one construct as lines of a table."""

from collections.abc import Iterator

from app.assess import ConstructAssessment
from app.compare.figures import ASKED, BORNE, LINE, METAL, STIFF, Group, Line, line_name, screw_name, screw_rank
from app.figures.mechanics import CONTACT, LOAD, MOTION, PLATE, SCREW_LOAD, STIFFNESS, UNDER, WORST
from app.mechanics import LoadCase, MechanicsResult, Supports


def asked(result: MechanicsResult) -> tuple[LoadCase, Supports]:
    """What the answers are for: ratios under different loads can't be set against each other."""
    return result.load, result.supports


def mechanics_figures(one: ConstructAssessment) -> Iterator[Line]:
    """All figures of the mechanics; none where the assessment has none."""
    if one.mechanics is not None:
        yield from figures_of(one.mechanics)


def figures_of(result: MechanicsResult) -> Iterator[Line]:
    """All figures of one answer."""
    yield from Group(ASKED, 0, LOAD[0].group).lines(LOAD, result.load)
    yield from Group(ASKED, 0, LOAD[0].group, len(LOAD)).lines(UNDER, result)
    yield from Group(STIFF, 0, STIFFNESS[0].group).lines(STIFFNESS, result)
    for number, line in enumerate(result.lines, 1):
        yield from Group(LINE, number, f"{line_name(number)}: motion").lines(MOTION, line)
        yield from Group(LINE, number, f"{line_name(number)}: contact", len(MOTION)).lines(CONTACT, line)
    if result.plate is not None:
        yield from Group(METAL, 0, PLATE[0].group).lines(PLATE, result)
    if result.screws:
        yield from Group(BORNE, 0, WORST[0].group).lines(WORST, result)
    for screw in result.screws:
        yield from Group(BORNE, screw_rank(screw.id), f"{screw_name(screw.id)}: load").lines(SCREW_LOAD, screw)
