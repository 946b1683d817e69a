"""What an edit would make of the construct, so that a remedy offers only what then helps."""

from collections.abc import Iterable
from dataclasses import replace
from functools import lru_cache

from app.case.edits import Edit, apply
from app.case.faults import InvalidCase
from app.geometry import Allowances, check_case, lay_out, summarise
from app.rules.registry import Remedy, Rule, RuleInput

Graves = tuple[int, int]  # how often a rule speaks gravely at all, and how often it stops
SILENT: Graves = (0, 0)


def after(judged: RuleInput, *edits: Edit) -> RuleInput | None:
    """The construct once the edits are made, laid out and summed up anew, without its mechanics; None if that fails."""
    case = judged.case
    try:
        for edit in edits:
            case = apply(case, edit)
    except InvalidCase:
        return None
    if check_case(case, judged.catalogue):
        return None
    allowances = Allowances.of(judged.thresholds)
    layout = lay_out(case.constructs[judged.target], case.bone_quality, judged.catalogue, allowances)
    return replace(judged, case=case, layout=layout, summary=summarise(layout), mechanics=None)


def brings_nothing_grave(judged: RuleInput, *edits: Edit) -> bool:
    """Whether no rule stops, or cautions, more often once the edits are made than it did before.

    The frame model is left out of it. Within such a trial the answer is yes: a remedy is tried only once.
    """
    if judged.trial or judged.rules is None:
        return True
    then = after(judged, *edits)
    if then is None:
        return False
    tried = replace(then, mechanics=None, trial=True, rules=None)
    # one rule that objects is enough: most of what is tried is refused, and by one of the first
    return not any(_objects(rule, judged, tried) for rule in judged.rules.rules.values())


def first_sound(judged: RuleInput, ways: Iterable[Remedy | None]) -> Remedy | None:
    """The first of these remedies that brings nothing grave; None if there is none."""
    if judged.trial:  # how grave it is doesn't hang on what is offered
        return None
    return next((way for way in ways if way is not None and brings_nothing_grave(judged, way.edit)), None)


def _objects(rule: Rule, judged: RuleInput, tried: RuleInput) -> bool:
    """Whether the rule speaks more gravely of what is tried. Most say nothing, however it was before."""
    then = _of_rule(rule, tried)
    return then != SILENT and not _no_more(then, _before(rule, judged))


@lru_cache(maxsize=64)
def _before(rule: Rule, judged: RuleInput) -> Graves:
    return _of_rule(rule, replace(judged, mechanics=None, trial=True, rules=None))


def _of_rule(rule: Rule, tried: RuleInput) -> Graves:
    levels = [finding.level or rule.level for finding in rule.judge(tried)]
    return sum(level != "note" for level in levels), levels.count("stop")


def _no_more(behind: Graves, before: Graves) -> bool:
    return behind[0] <= before[0] and behind[1] <= before[1]
