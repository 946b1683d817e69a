"""What stays in sight while a hand is on the drawing: the verdict on every bone, the strain gauge and three figures."""

from dataclasses import dataclass

from app.assess import Assessment, ConstructAssessment, Knowledge
from app.case.models import Principle
from app.figures.mechanics import AXIAL, OPENS, OPENS_FACTOR, PEAK, TORSION, WORST, worst_told
from app.mechanics import LineAnswer, MechanicsResult
from app.rules import LEVELS, Level, left_open
from app.web.panels.mechanics import Band, Gauge, bands_of, gauges_of, of_same_bone
from app.web.panels.summary import ShownFigure, with_was


@dataclass(frozen=True, slots=True)
class Verdict:
    """How many warnings are left open on one bone, the case's own included; ``shown``: whether it is the one drawn."""

    bone: str
    counts: tuple[tuple[Level, int], ...]
    shown: bool


@dataclass(frozen=True, slots=True)
class ReadingsView:
    """What the panel shows; there are verdicts where the case has several bones: of one, the warnings' heads say it."""

    verdicts: tuple[Verdict, ...]
    unstable: str | None
    bands: tuple[Band, ...]
    gauges: tuple[Gauge, ...]
    figures: tuple[ShownFigure, ...]


def verdicts(assessment: Assessment, shown: int) -> tuple[Verdict, ...]:
    """The verdict on every bone, as the warnings panel counts them when that bone is drawn."""
    found = []
    for one in assessment.constructs:
        levels = [warning.level for warning in left_open((*one.warnings, *assessment.warnings))]
        counts = tuple((level, levels.count(level)) for level in LEVELS)
        name = f"{one.target + 1}. {one.construct.bone.title}"
        found.append(Verdict(name, counts, one.target == shown))
    return tuple(found)


def readings_view(
    assessment: Assessment,
    one: ConstructAssessment,
    knowledge: Knowledge,
    before: ConstructAssessment | None = None,
) -> ReadingsView:
    """What stays in sight of one construct; figures that differ from ``before`` say what they were."""
    several = verdicts(assessment, one.target) if len(assessment.constructs) > 1 else ()
    result = one.mechanics
    if result is None or result.unstable is not None:
        return ReadingsView(several, None if result is None else result.unstable, (), (), ())
    stood = of_same_bone(before, one)
    old = None if stood is None else stood.mechanics
    earlier = {} if old is None else {figure.id: figure.text for figure in _telling(one.construct.principle, old)}
    figures = with_was(_telling(one.construct.principle, result), earlier)
    return ReadingsView(several, None, bands_of(knowledge), gauges_of(result), figures)


def _telling(principle: Principle, result: MechanicsResult) -> tuple[ShownFigure, ...]:
    """The figures that say whether a construct does what its principle asks of it; common practice, no source."""
    if result.unstable is not None:
        return ()
    of_line = () if principle == "bridging" or result.worst_line is None else (_opens(result.lines[result.worst_line]),)
    stiffness = TORSION if principle == "compression" else AXIAL
    shown = (*of_line, *(ShownFigure(f"telling-{one.id}", one.label, one.told(result)) for one in (stiffness, PEAK)))
    worst = ShownFigure(f"telling-{WORST[0].id}", WORST[0].label, worst_told(WORST[0], result))
    return (*shown, worst) if principle == "bridging" else shown


def _opens(line: LineAnswer) -> ShownFigure:
    factor = line.interface.opens_at_factor
    text = OPENS.said(line) if factor is None else OPENS_FACTOR.told(line)
    return ShownFigure("telling-opens", OPENS_FACTOR.label, text)
