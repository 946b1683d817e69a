"""A new case from four answers, with a layout to start from."""

from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Literal

from app.assess import Knowledge, assess
from app.case.models import BodySide, Case, Principle
from app.catalogue import PlateSeries
from app.geometry import check_case
from app.suggest.layouts import suggest
from app.suggest.patterns import blank_case, drawn_pattern, fitting, usual_holes

Pattern = Literal["A1", "A2", "A3", "B2", "B3", "C2", "C3"]
# What is asked for, in the words of the trade, by the group of the AO/OTA 2018 code whose fracture it is.
PATTERNS: dict[Pattern, str] = {
    "A1": "Spiral",
    "A2": "Oblique",
    "A3": "Transverse",
    "B2": "Wedge",
    "B3": "Fragmentary wedge",
    "C2": "Segmental",
    "C3": "Fragmentary segmental",
}


@dataclass(frozen=True, slots=True)
class Beginning:
    """The new case, and what its layout raises; None: no layout was found, and every hole is empty."""

    case: Case
    stops_and_cautions: int | None


def begin(
    knowledge: Knowledge,
    bone: str,
    pattern: Pattern,
    *,
    side: BodySide | None = None,
    principle: Principle | None = None,
    series: str | None = None,
) -> Beginning:
    """Begin a case with the layout that raises the fewest stops and cautions.

    Args:
        knowledge: what to choose from and judge by.
        bone: its name in the catalogue.
        pattern: one of ``PATTERNS``.
        side: of the body, if it is said.
        principle: None takes the first of those that fit for which a layout comes out clean.
        series: the plate to use; None takes what suits.
    """
    plain = begin_blank(knowledge, bone, pattern, side)
    case = _with(plain, principle, knowledge.catalogue.series[series] if series else None)
    offered: list[tuple[int, Case]] = []
    for wanted in (principle,) if principle else fitting(pattern):
        found = suggest(case, 0, wanted, _with_only(knowledge, bone, series) if series else knowledge)
        if found is not None:
            laid = case.model_copy(update={"constructs": (found.edit.value,)})
            offered.append((_marks(laid, knowledge), laid))
            if offered[-1][0] == 0:
                break
    if not offered:
        return Beginning(plain if check_case(case, knowledge.catalogue) else case, None)  # a plate may be too long
    marks, laid = min(offered, key=lambda one: one[0])
    return Beginning(laid, marks)


def begin_blank(knowledge: Knowledge, bone: str, pattern: Pattern, side: BodySide | None = None) -> Case:
    """A case of this bone and pattern under the bone's usual plate, with every hole empty."""
    spec = knowledge.catalogue.bones[bone]
    name = f"{side or ''} {spec.label.lower()}".strip().capitalize()
    blank = blank_case(f"{name}, {PATTERNS[pattern].lower()} shaft fracture", bone, knowledge)
    (construct,) = blank.constructs
    change = {
        "fracture": drawn_pattern(spec, pattern, round(spec.length_mm / 2), spec.length_mm),
        "principle": fitting(pattern)[0],
        "bone": construct.bone.model_copy(update={"side": side}),
    }
    return blank.model_copy(update={"constructs": (construct.model_copy(update=change),)})


def _with(case: Case, principle: Principle | None, series: PlateSeries | None) -> Case:
    """The same with the principle and the plate that were chosen, where they were."""
    (construct,) = case.constructs
    change: dict[str, object] = {"principle": principle or construct.principle}
    if series is not None:
        count = usual_holes(series)
        change["plate"] = construct.plate.model_copy(update={"series": series.key, "holes": count})
        change["holes"] = construct.holes[:1] * count
    return case.model_copy(update={"constructs": (construct.model_copy(update=change),)})


@lru_cache(maxsize=64)  # knowledge is compared by identity, and what is worked out from it kept
def _with_only(knowledge: Knowledge, bone: str, series: str) -> Knowledge:
    """As if the stock for this bone were one plate."""
    catalogue = knowledge.catalogue
    spec = replace(catalogue.bones[bone], usual_series=(series,))
    return replace(knowledge, catalogue=replace(catalogue, bones={**catalogue.bones, bone: spec}))


def _marks(case: Case, knowledge: Knowledge) -> int:
    """Stops and cautions of the whole case, its mechanics included: what its page will show."""
    judged = assess(case, knowledge, remedies=False)
    levels = [warning.level for one in judged.constructs for warning in one.warnings]
    levels += [warning.level for warning in judged.warnings]
    return levels.count("stop") + levels.count("caution")
