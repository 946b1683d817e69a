"""Rules: small functions from an assessed construct to warnings, each with a reason, a source and its standing."""

from collections.abc import Container

from app.rules.acknowledged import left_open, put_away, subject_of
from app.rules.acknowledged import marked as _marked
from app.rules.anatomy import ANATOMY_RULES
from app.rules.case_wide import CASE_WIDE_RULES
from app.rules.compression import COMPRESSION_RULES
from app.rules.faces import FACE_RULES
from app.rules.hold import HOLD_RULES
from app.rules.implants import IMPLANT_RULES
from app.rules.lag import LAG_RULES
from app.rules.lengths import LENGTH_RULES
from app.rules.locking import LOCKING_RULES
from app.rules.mechanical import MECHANICAL_RULES
from app.rules.near import NEAR_RULES
from app.rules.pattern import PATTERN_RULES
from app.rules.registry import LEVELS, Finding, Level, Registry, Remedy, Rule, RuleInput, Warning
from app.rules.sequence import ORDER_RULES
from app.rules.spans import SPAN_RULES
from app.rules.stock import STOCK_RULES

CONSTRUCT_RULES = Registry.joined(
    STOCK_RULES,
    IMPLANT_RULES,
    PATTERN_RULES,
    HOLD_RULES,
    SPAN_RULES,
    NEAR_RULES,
    LAG_RULES,
    FACE_RULES,
    COMPRESSION_RULES,
    LOCKING_RULES,
    ANATOMY_RULES,
    LENGTH_RULES,
    MECHANICAL_RULES,
    ORDER_RULES,
)
CASE_RULES = CASE_WIDE_RULES


def all_rules() -> tuple[Rule, ...]:
    """Every rule, those on a construct first."""
    return (*CONSTRUCT_RULES.rules.values(), *CASE_RULES.rules.values())


def judge_construct(judged: RuleInput, only: Container[str] | None = None) -> tuple[Warning, ...]:
    """Warnings on one construct, gravest first, notes that were put away last; ``only`` as in ``Registry.judge``."""
    return _marked(CONSTRUCT_RULES.judge(judged, only), judged.construct.acknowledged)


def judge_case(judged: tuple[RuleInput, ...], only: Container[str] | None = None) -> tuple[Warning, ...]:
    """Warnings on the case as a whole, gravest first, notes that were put away last; ``only`` as above."""
    return _marked(CASE_RULES.judge(judged[0], only), judged[0].case.acknowledged)


__all__ = [
    "CASE_RULES",
    "CONSTRUCT_RULES",
    "LEVELS",
    "Finding",
    "Level",
    "Remedy",
    "Rule",
    "RuleInput",
    "Warning",
    "all_rules",
    "judge_case",
    "judge_construct",
    "left_open",
    "put_away",
    "subject_of",
]
