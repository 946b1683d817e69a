"""The one door: whatever the case, an assessment comes out, in finite plain values."""

import json

from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from app.assess import assess, load_knowledge
from app.case import Case, InvalidCase, apply, parse_edit
from app.document import as_document
from app.geometry import check_case
from tests.strategies import cases, edits

KNOWLEDGE = load_knowledge()
SLOW = settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck))


@SLOW
@given(case=cases())
def test_every_valid_case_is_assessed_in_finite_values(case: Case) -> None:
    text = json.dumps(as_document(assess(case, KNOWLEDGE)), allow_nan=False)
    assert json.loads(text)["format"] == "fishplate-assessment/1"


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
