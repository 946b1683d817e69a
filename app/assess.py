"""Case to assessment: the one door to geometry, rules, mechanics and order."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace
from functools import lru_cache
from pathlib import Path

from app.case.faults import Fault, InvalidCase
from app.case.models import Case, Construct
from app.catalogue import Catalogue, Thresholds, load_catalogue, load_thresholds
from app.geometry import Allowances, Layout, Summary, check_case, lay_out, summarise
from app.geometry.standin import StandIn, stand_in
from app.mechanics import Construct as MechanicsConstruct
from app.mechanics import MechanicsResult
from app.mechanics.of_layout import Loading, mechanics_of, model_of, preset_loading
from app.rules import RuleInput, Warning, judge_case, judge_construct


@dataclass(frozen=True, slots=True, eq=False)
class Knowledge:
    """What cases are judged by: the catalogue (own stock included) and the thresholds (a department's included).

    Loaded once and compared by identity, so that what is worked out from it can be kept.
    """

    catalogue: Catalogue
    thresholds: Thresholds

    @property
    def allowances(self) -> Allowances:
        """The distances that geometry needs of the thresholds."""
        return Allowances.of(self.thresholds)


@dataclass(frozen=True, slots=True)
class ConstructAssessment:
    """One construct: laid out, summed up, loaded and judged. ``mechanics`` is None only where it was not asked for."""

    target: int
    layout: Layout
    summary: Summary
    warnings: tuple[Warning, ...]
    loading: Loading | None = None
    mechanics: MechanicsResult | None = None

    @property
    def construct(self) -> Construct:
        """The construct as the user wrote it."""
        return self.layout.construct


@dataclass(frozen=True, slots=True)
class Assessment:
    """The whole case; ``warnings`` are those of the case as a whole, ``judged`` what the rules were given.

    ``remedies``: whether remedies were looked for; where not, no warning has one, nor a word on why.
    """

    case: Case
    constructs: tuple[ConstructAssessment, ...]
    warnings: tuple[Warning, ...]
    judged: tuple[RuleInput, ...] = field(default=(), repr=False, compare=False)
    remedies: bool = True


Drawn = Callable[[ConstructAssessment], tuple[MechanicsResult, ...]]
Solve = Callable[[MechanicsConstruct], tuple[MechanicsResult, ...]]


@lru_cache(maxsize=8)
def load_knowledge(stock: Path | None = None, thresholds: Path | None = None) -> Knowledge:
    """Read the shipped tables, with a user's own stock and a department's thresholds over them.

    Raises:
        CatalogueError: one of the files is faulty; the message names the key and what is allowed.
    """
    return Knowledge(load_catalogue(stock), load_thresholds(thresholds))


def assess(
    case: Case,
    knowledge: Knowledge,
    loadings: Mapping[int, Loading] | None = None,
    *,
    mechanics: bool = True,
    remedies: bool = True,
) -> Assessment:
    """Judge a case.

    Args:
        case: what to judge.
        knowledge: what to judge it by.
        loadings: loads by construct index; the bone's protected preset where none is given.
        mechanics: whether to solve the frame model; a search for layouts does without.
        remedies: whether to look for what mends each warning; a search and a drag do without.

    Raises:
        InvalidCase: the case asks for what isn't made, or doesn't fit the bone.
    """
    faults = check_case(case, knowledge.catalogue)
    if faults:
        raise InvalidCase(faults)
    none_missing = StandIn(case, ((),) * len(case.constructs))
    return _assessed(none_missing, knowledge, loadings, mechanics=mechanics, remedies=remedies)


def assess_stored(
    case: Case,
    knowledge: Knowledge,
    loadings: Mapping[int, Loading] | None = None,
    *,
    mechanics: bool = True,
    remedies: bool = True,
) -> Assessment:
    """Judge a case that was accepted once: where the stock has lost something, with the nearest in its place.

    The assessment's ``case`` is then the one that is shown, and the rule ``in-stock`` says what is missing.

    Raises:
        InvalidCase: not even that can be drawn.
    """
    shown = stand_in(case, knowledge.catalogue)
    if shown is None:
        raise InvalidCase(check_case(case, knowledge.catalogue))
    return _assessed(shown, knowledge, loadings, mechanics=mechanics, remedies=remedies)


def drawn(
    one: ConstructAssessment,
    catalogue: Catalogue,
    solve: Solve | None = None,
) -> tuple[MechanicsResult, ...]:
    """The mechanics of a construct over what is not known; none where they were not worked out, or it holds nothing.

    ``solve`` solves it for all draws, elsewhere perhaps; left out, it is done here.
    """
    if one.mechanics is None or one.loading is None or one.mechanics.unstable is not None:
        return ()
    from app.mechanics.bands import solved  # numpy is slow to load, and the first page does without

    return (solve or solved)(model_of(one.layout, catalogue, one.loading))


def drawn_from(catalogue: Catalogue) -> Drawn:
    """``drawn`` for one catalogue."""
    return lambda one: drawn(one, catalogue)


def with_remedies(assessment: Assessment) -> Assessment:
    """The same assessment with what mends each warning, which is looked for now if it was not before."""
    if assessment.remedies:
        return assessment
    # Whether a rule speaks doesn't hang on what is offered, so those that said nothing need not be asked again.
    constructs = tuple(
        replace(one, warnings=judge_construct(replace(judged, trial=False), _spoke(one.warnings)))
        for one, judged in zip(assessment.constructs, assessment.judged, strict=True)
    )
    judged = tuple(replace(one, trial=False) for one in assessment.judged)
    warnings = judge_case(judged, _spoke(assessment.warnings))
    return replace(assessment, constructs=constructs, warnings=warnings, judged=judged, remedies=True)


def _spoke(warnings: Iterable[Warning]) -> frozenset[str]:
    return frozenset(one.rule for one in warnings)


def check_edit(before: Case, after: Case, knowledge: Knowledge) -> None:
    """Refuse an edit that brings a fault; one that the stock brought already does not stand in its way.

    Raises:
        InvalidCase: with what is new.
    """
    found = check_case(after, knowledge.catalogue)
    if found:
        known = frozenset(check_case(before, knowledge.catalogue))
        if new := tuple(fault for fault in found if fault not in known):
            raise InvalidCase(new)


def _assessed(
    shown: StandIn,
    knowledge: Knowledge,
    loadings: Mapping[int, Loading] | None,
    *,
    mechanics: bool,
    remedies: bool,
) -> Assessment:
    case = shown.case
    judged = tuple(
        _judged(case, target, knowledge, _loading(case, target, loadings) if mechanics else None, missing)
        for target, missing in enumerate(shown.missing)
    )
    return _told(case, judged if remedies else tuple(replace(one, trial=True) for one in judged))


def _told(case: Case, judged: tuple[RuleInput, ...]) -> Assessment:
    constructs = tuple(
        ConstructAssessment(one.target, one.layout, one.summary, judge_construct(one), one.loading, one.mechanics)
        for one in judged
    )
    return Assessment(case, constructs, judge_case(judged), judged, remedies=not judged[0].trial)


def _loading(case: Case, target: int, loadings: Mapping[int, Loading] | None) -> Loading:
    given = (loadings or {}).get(target)
    return given or preset_loading(case.constructs[target].bone.name)


def _judged(
    case: Case, target: int, knowledge: Knowledge, loading: Loading | None, missing: tuple[Fault, ...]
) -> RuleInput:
    layout = lay_out(case.constructs[target], case.bone_quality, knowledge.catalogue, knowledge.allowances)
    return RuleInput(
        case=case,
        target=target,
        layout=layout,
        summary=summarise(layout),
        catalogue=knowledge.catalogue,
        thresholds=knowledge.thresholds,
        loading=loading,
        mechanics=None if loading is None else mechanics_of(layout, knowledge.catalogue, loading),
        missing=missing,
    )
