"""The one door: whatever the case, an assessment comes out, in finite plain values."""

import json
from dataclasses import replace

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from app.assess import Assessment, assess, load_knowledge, with_remedies
from app.case import Case, InvalidCase, apply, parse_edit
from app.case.edits import MoveFracture
from app.document import as_document
from app.geometry import check_case
from app.rules import Warning
from app.samples import Sample, load_samples
from tests.strategies import cases, edits

KNOWLEDGE = load_knowledge()
SLOW = settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck))


@SLOW
@given(case=cases())
def test_every_valid_case_is_assessed_in_finite_values(case: Case) -> None:
    text = json.dumps(as_document(assess(case, KNOWLEDGE)), allow_nan=False)
    assert json.loads(text)["format"] == "fishplate-assessment/2"


@SLOW
@given(data=st.data())
def test_any_sequence_of_edits_stays_assessable_or_says_why_not(data: st.DataObject) -> None:
    case, refusals = data.draw(cases()), []
    for _ in range(5):
        try:
            edited = apply(case, parse_edit(data.draw(edits(case))))
            as_document(assess(edited, KNOWLEDGE))
            case = edited
        except InvalidCase as refused:
            refusals.append(refused)
    assert not check_case(case, KNOWLEDGE.catalogue)
    assert all(refused.faults and all(fault.message for fault in refused.faults) for refused in refusals)


def _bare(warnings: tuple[Warning, ...]) -> list[Warning]:
    return [replace(one, remedy=None, unmended="") for one in warnings]


def _told(judged: Assessment) -> list[tuple[Warning, ...]]:
    return [*(one.warnings for one in judged.constructs), judged.warnings]


def same_without_remedies(case: Case) -> bool:
    """Whether what is said without remedies is what is said with them; and whether there were any."""
    whole, trial = assess(case, KNOWLEDGE, mechanics=False), assess(case, KNOWLEDGE, mechanics=False, remedies=False)
    assert [list(part) for part in _told(trial)] == [_bare(part) for part in _told(whole)]
    assert _told(with_remedies(trial)) == _told(whole)
    return _told(trial) != _told(whole)


@SLOW
@given(case=cases())
def test_what_is_wrong_does_not_hang_on_whether_a_remedy_is_looked_for(case: Case) -> None:
    same_without_remedies(case)


@pytest.mark.parametrize("sample", load_samples(), ids=lambda sample: sample.key)
def test_nor_while_a_fracture_is_dragged(sample: Sample) -> None:
    at = sample.case.constructs[0].fracture.lines[0].position_mm
    moved = [apply(sample.case, MoveFracture(target=0, line=0, position_mm=at + by)) for by in range(-30, 31, 6)]
    placed = [case for case in moved if not check_case(case, KNOWLEDGE.catalogue)]
    assert True in [same_without_remedies(case) for case in placed]


@SLOW
@given(case=cases())
def test_every_remedy_is_an_edit_that_can_be_made(case: Case) -> None:
    judged = assess(case, KNOWLEDGE)
    told = [w for one in judged.constructs for w in one.warnings] + list(judged.warnings)
    offered = [warning.remedy for warning in told if warning.remedy is not None]
    assume(offered)
    for remedy in offered:
        mended = apply(case, parse_edit(remedy.edit))
        assert mended != case, remedy.label
        assert len(assess(mended, KNOWLEDGE).constructs) == len(mended.constructs)
