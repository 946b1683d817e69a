"""Any valid case can be drawn, in any window and theme."""

import re

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from app.assess import Assessment, ConstructAssessment
from app.case.models import Case
from app.drawing import View, draw_case, draw_sketch, draw_thumbnail
from app.geometry import Allowances, lay_out, summarise
from tests.drawing.constructs import CATALOGUE, handles, parsed
from tests.strategies import cases

PATIENT = settings(
    max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much]
)


def assessment(case: Case) -> Assessment:
    layouts = [lay_out(one, case.bone_quality, CATALOGUE, Allowances()) for one in case.constructs]
    ones = tuple(ConstructAssessment(n, layout, summarise(layout), ()) for n, layout in enumerate(layouts))
    return Assessment(case, ones, warnings=(), judged=())


@PATIENT
@given(case=cases(), start=st.floats(-50, 400), width=st.floats(20, 600))
def test_any_case_can_be_drawn(case: Case, start: float, width: float) -> None:
    drawn = assessment(case)
    views = [None, View(round(start, 1), round(start, 1) + round(width + 0.1, 1))]
    for one in drawn.constructs:
        texts = [draw_sketch(one, view=view) for view in views]
        texts += [draw_thumbnail(one), draw_case(drawn, "print")]
        for text in texts:
            assert not re.search(r"\b(nan|inf)\b", text)
            root = parsed(text)
            ids = [e.get("id") for e in root.iter() if e.get("id")]
            assert len(ids) == len(set(ids))
        assert sum(h.get("role") == "button" for h in handles(parsed(texts[0]))) == one.construct.plate.holes
