"""Older formats are read, and mean the same as before."""

import json
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator

from app.case import InvalidCase, apply, parse_case
from app.case.edits import SetSide, SetSpiral, SetSurface
from app.case.models import FORMAT, PutAway
from app.case.upgrade import STEPS, upgraded
from app.samples import load_samples

CONSTRUCT = {
    "bone": {"name": "ulna"},
    "fracture": {"lines": [{"position_mm": 120, "obliquity_deg": 30}]},
    "principle": "bridging",
    "plate": {"series": "small-3.5", "holes": 2, "centre_mm": 120},
    "holes": [{"role": "neutral"}, {}],
}
DRAFT = {"format": "fishplate-case/0", "title": "Ulna", "quality": "poor", "construct": CONSTRUCT}
TODAY = {"format": FORMAT, "title": "Ulna", "bone_quality": "poor", "constructs": [CONSTRUCT]}
FIRST = Path(__file__).parent / "format_1"
FIRST_CASES = sorted(path for path in FIRST.glob("*.json") if path.name != "schema.json")


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
    "document", [TODAY, {"format": "fishplate-case/3"}, {"format": ["fishplate-case/0"]}, [], None, 7]
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


@pytest.mark.parametrize("path", FIRST_CASES, ids=lambda path: path.stem)
def test_files_of_format_1_read_as_the_sample_of_today(path):
    """Kept as they were written: valid by the schema of that time, and the same case but for what it could not say."""
    document = json.loads(path.read_text(encoding="utf-8"))
    Draft202012Validator(json.loads((FIRST / "schema.json").read_text(encoding="utf-8"))).validate(document)
    old, new = parse_case(json.dumps(document)), next(one for one in load_samples() if one.key == path.stem).case
    assert old.format == FORMAT
    bare = new
    for target in range(len(new.constructs)):
        bare = apply(apply(bare, SetSide(target=target, side=None)), SetSurface(target=target, surface=None))
        for line in range(len(bare.constructs[target].fracture.lines)):
            bare = apply(bare, SetSpiral(target=target, line=line, spiral=None))
    assert old == bare


def test_a_note_put_away_in_format_1_was_any_note_of_its_rule():
    document = {**TODAY, "format": "fishplate-case/1", "acknowledged": ["two-bones"]}
    document["constructs"] = [{**CONSTRUCT, "acknowledged": ["contour", "spread"]}]
    case = parse_case(json.dumps(document))
    assert case.acknowledged == (PutAway(rule="two-bones"),)
    assert case.constructs[0].acknowledged == (PutAway(rule="contour"), PutAway(rule="spread"))
    with pytest.raises(InvalidCase, match="acknowledged"):
        parse_case(json.dumps({**document, "acknowledged": "two-bones"}))


@pytest.mark.parametrize(
    ("part", "far", "too_far"),
    [
        (
            "fracture",
            {"lines": [{"position_mm": 120, "turn_deg": -90}]},
            {"lines": [{"position_mm": 120, "turn_deg": 91}]},
        ),
        ("lag_screws", [{"position_mm": 100, "turn_deg": 180}], [{"position_mm": 100, "turn_deg": -181}]),
    ],
)
def test_planes_turn_as_far_as_there_are_other_planes(part, far, too_far):
    case = parse_case(json.dumps({**TODAY, "constructs": [{**CONSTRUCT, part: far}]}))
    assert case == parse_case(case.model_dump_json())
    with pytest.raises(InvalidCase, match="turn_deg"):
        parse_case(json.dumps({**TODAY, "constructs": [{**CONSTRUCT, part: too_far}]}))
