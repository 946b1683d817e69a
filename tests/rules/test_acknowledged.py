"""Notes put away. The demand is our own: notes alone, by rule; stops and cautions are always told."""

from collections.abc import Iterable

import pytest

from app.assess import assess
from app.case import Case, apply, parse_edit
from app.case.models import PutAway
from app.document import as_document
from app.rules import LEVELS, Level, left_open, put_away
from app.rules.acknowledged import acknowledged, marked
from app.rules.registry import Warning as Warned
from app.samples import load_samples
from tests.rules.judging import KNOWLEDGE
from tests.rules.scenes import SCENES


def warned(level: Level, rule: str = "spread") -> Warned:
    return Warned(rule, level, ("plate",), "It is so.", "", "", None)


@pytest.mark.parametrize(("level", "away"), [("stop", False), ("caution", False), ("note", True)])
def test_only_a_note_of_a_named_rule_is_put_away(level: Level, away: bool) -> None:
    assert acknowledged(warned(level), (PutAway(rule="spread"),)) is away
    assert acknowledged(warned(level), (PutAway(rule="spread", subject="plate"),)) is away
    assert not acknowledged(warned(level), (PutAway(rule="spread", subject="h3"), PutAway(rule="contour")))
    assert not acknowledged(warned(level), ())


def test_what_is_put_away_comes_last_and_the_rest_keeps_its_order() -> None:
    told = [warned("stop"), warned("caution", "contour"), warned("note"), warned("note", "contour"), warned("note")]
    found = marked(told, {PutAway(rule="spread")})
    assert [(one.rule, one.level, one.acknowledged) for one in found] == [
        ("spread", "stop", False), ("contour", "caution", False), ("contour", "note", False),
        ("spread", "note", True), ("spread", "note", True),
    ]  # fmt: skip
    assert (*left_open(found), *put_away(found)) == found


def noted(case: Case, rules: set[str]) -> Case:
    for rule in sorted(rules):
        for target in (None, *range(len(case.constructs))):
            case = apply(case, parse_edit({"op": "acknowledge", "rule": rule, "target": target}))
    return case


def words(warnings: Iterable[Warned]) -> list[tuple[str, str, tuple[str, ...], str]]:
    return [(one.rule, one.level, one.subject, one.message) for one in warnings]


CASES = [*(scene.case for scene in SCENES), *(sample.case for sample in load_samples())]


def test_with_every_rule_noted_stops_and_cautions_are_told_as_before() -> None:
    seen: set[Level] = set()
    for case in CASES:
        before = assess(case, KNOWLEDGE)
        told = [*before.warnings, *(warning for one in before.constructs for warning in one.warnings)]
        after = assess(noted(case, {one.rule for one in told}), KNOWLEDGE)
        for old, new in zip((before, *before.constructs), (after, *after.constructs), strict=True):
            assert words(left_open(new.warnings)) == words(one for one in old.warnings if one.level != "note")
            assert words(new.warnings) == words(old.warnings)
        seen |= {one.level for one in told}
    assert seen == set(LEVELS)


def test_the_document_says_which() -> None:
    case = load_samples()[3].case  # a femur: several rules note something of it
    edit = {"op": "acknowledge", "rule": "structures-at-risk", "target": 0}
    document = as_document(assess(apply(case, parse_edit(edit)), KNOWLEDGE))
    found = [(one["rule"], one["acknowledged"]) for one in document["constructs"][0]["warnings"]]
    assert {rule for rule, away in found if away} == {"structures-at-risk"}
    assert {away for rule, away in found if rule != "structures-at-risk"} == {False}
