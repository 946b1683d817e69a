"""What an edit would make of the construct, so that a remedy offers only what then helps."""

from dataclasses import replace

from app.case.edits import Edit, apply
from app.case.faults import InvalidCase
from app.geometry import Allowances, check_case, lay_out, summarise
from app.rules.registry import RuleInput


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
