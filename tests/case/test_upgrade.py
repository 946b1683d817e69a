"""Older formats are read, and mean the same as before."""

import json

import pytest

from app.case import InvalidCase, parse_case
from app.case.models import FORMAT
from app.case.upgrade import STEPS, upgraded

CONSTRUCT = {
    "bone": {"name": "ulna"},
    "fracture": {"lines": [{"position_mm": 120, "obliquity_deg": 30}]},
    "principle": "bridging",
    "plate": {"series": "small-3.5", "holes": 2, "centre_mm": 120},
    "holes": [{"role": "neutral"}, {}],
}
DRAFT = {"format": "fishplate-case/0", "title": "Ulna", "quality": "poor", "construct": CONSTRUCT}
TODAY = {"format": "fishplate-case/1", "title": "Ulna", "bone_quality": "poor", "constructs": [CONSTRUCT]}


def test_the_draft_reads_as_todays_case():
    assert parse_case(json.dumps(DRAFT)) == parse_case(json.dumps(TODAY))


def test_what_the_draft_left_out_has_todays_default():
    bare = {name: value for name, value in DRAFT.items() if name != "quality"}
    assert parse_case(json.dumps(bare)).bone_quality == "normal"


def test_reading_changes_nothing_of_the_document_given():
    before = json.dumps(DRAFT)
    upgraded(DRAFT)
    assert json.dumps(DRAFT) == before


def test_every_older_format_leads_to_todays():
    for first in STEPS:
        name = first
        for _ in STEPS:  # more steps than there are would be a circle
            name = STEPS[name]({"format": name})["format"] if name != FORMAT else FORMAT
        assert name == FORMAT, first


@pytest.mark.parametrize(
    "document", [TODAY, {"format": "fishplate-case/2"}, {"format": ["fishplate-case/0"]}, [], None, 7]
)
def test_what_is_no_older_case_stays_as_it_is(document):
    assert upgraded(document) is document


@pytest.mark.parametrize(
    ("wrong", "path"),
    [
        ({**DRAFT, "quality": "middling"}, "bone_quality"),
        ({**DRAFT, "construct": {**CONSTRUCT, "principle": "glue"}}, "constructs.0.principle"),
        ({**DRAFT, "quality": "poor", "colour": "red"}, "colour"),
        ({**TODAY, "quality": "poor"}, "quality"),
        ({"format": "fishplate-case/0", "title": "Ulna"}, "constructs"),
    ],
)
def test_faults_of_older_files_are_told_in_todays_words(wrong, path):
    with pytest.raises(InvalidCase) as refused:
        parse_case(json.dumps(wrong))
    assert path in [fault.path for fault in refused.value.faults]
