"""The case file: what is read, what is refused, and in which words."""

import json
from copy import deepcopy
from typing import Any

import pytest

from app.case import Fault, InvalidCase, parse_case, parse_edit
from app.case.codes import ALL_CODES, parse_code, patterns_of

EXAMPLE: dict[str, Any] = {
    "format": "fishplate-case/2",
    "title": "Humeral shaft, short oblique",
    "note": "",
    "bone_quality": "normal",
    "constructs": [
        {
            "bone": {"name": "humerus", "length_mm": 310, "midshaft_depth_mm": 21},
            "fracture": {
                "code": "12A2",
                "lines": [{"position_mm": 160, "obliquity_deg": 40, "zone_mm": 0}],
                "gap_mm": 0,
                "wedge": None,
            },
            "principle": "compression",
            "plate": {"series": "large-narrow-4.5", "holes": 9, "centre_mm": 160, "standoff_mm": 0, "prebend_mm": 0},
            "holes": [
                {"role": "neutral"},
                {"role": "empty"},
                {"role": "neutral"},
                {"role": "neutral"},
                {"role": "lag", "tilt_deg": -20},
                {"role": "eccentric"},
                {"role": "neutral"},
                {"role": "empty"},
                {"role": "neutral"},
            ],
            "lag_screws": [{"position_mm": 150, "tilt_deg": -25, "screw": "cortex-3.5"}],
            "order": None,
        }
    ],
}


def changed(path: str, value: object) -> str:
    document = deepcopy(EXAMPLE)
    *steps, last = (int(step) if step.isdigit() else step for step in path.split("."))
    part: Any = document
    for step in steps:
        part = part[step]
    part[last] = value
    return json.dumps(document)


def test_example_is_read_and_written_unchanged() -> None:
    case = parse_case(json.dumps(EXAMPLE))
    again = parse_case(case.model_dump_json())
    assert again == case
    assert case.constructs[0].screw_ids == ("h1", "h3", "h4", "h5", "h6", "h7", "h9", "s1")


@pytest.mark.parametrize(
    ("path", "value", "says"),
    [
        ("title", "a\x07b", "title"),
        ("title", "<b>x</b>", "title"),
        ("title", "x" * 121, "120"),
        ("title", "  ", "blank"),
        ("note", "nul \x00", "note"),
        ("format", "fishplate-case/9", "fishplate-case/2"),
        ("surprise", 1, "surprise"),
        ("constructs", [], "constructs"),
        ("constructs.0.bone.length_mm", 9000, "650"),
        ("constructs.0.bone.name", "rib", "clavicle"),
        ("constructs.0.fracture.code", "12B1", "12B2"),
        ("constructs.0.fracture.code", "12C1", "12C2"),
        ("constructs.0.fracture.lines.0.obliquity_deg", 80, "75"),
        ("constructs.0.fracture.lines.0.position_mm", "here", "position_mm"),
        ("constructs.0.fracture.wedge", {"side": "near", "length_mm": 20, "line": 2}, "wedge.line"),
        ("constructs.0.plate.holes", 8, "holes has 9 entries"),
        ("constructs.0.holes.0.role", "glue", "neutral"),
        ("constructs.0.order", ["h1"], "each placed screw once"),
        ("constructs.0.lag_screws.0.tilt_deg", 80, "75"),
    ],
)
def test_faults_name_the_field_and_what_is_allowed(path: str, value: object, says: str) -> None:
    with pytest.raises(InvalidCase) as caught:
        parse_case(changed(path, value))
    assert says in str(caught.value)
    assert all(fault.path for fault in caught.value.faults)


@pytest.mark.parametrize("text", ["", "{", "[1]", "null", '{"title": NaN}', "[" * 100_000, b"\xff\xfe{}"])
def test_what_is_no_case_is_refused(text: str | bytes) -> None:
    with pytest.raises(InvalidCase):
        parse_case(text)


@pytest.mark.parametrize("number", ["NaN", "Infinity", "-Infinity", "1e999"])
def test_numbers_are_finite(number: str) -> None:
    text = json.dumps(EXAMPLE).replace('"position_mm": 160', f'"position_mm": {number}')
    with pytest.raises(InvalidCase):
        parse_case(text)


def test_every_fault_is_told_at_once() -> None:
    text = changed("title", "").replace('"obliquity_deg": 40', '"obliquity_deg": 90')
    with pytest.raises(InvalidCase) as caught:
        parse_case(text)
    assert {fault.path for fault in caught.value.faults} >= {
        "title",
        "constructs.0.fracture.lines.0.obliquity_deg",
    }


class TestManyFaults:
    """A megabyte of faults came back as five; what is told must stay readable, whatever is sent. No outside source."""

    def refused(self, document: object) -> tuple[Fault, ...]:
        with pytest.raises(InvalidCase) as caught:
            parse_case(json.dumps(document))
        return caught.value.faults

    def test_the_first_fifty_are_told_and_the_others_counted(self) -> None:
        document = json.loads(json.dumps(EXAMPLE))
        holes = document["constructs"][0]["holes"]
        for hole in holes:
            hole.update({f"unknown{n}": 1 for n in range(20)})
        faults = self.refused(document)
        assert [fault.path for fault in faults[:2]] == [
            "constructs.0.holes.0.unknown0",
            "constructs.0.holes.0.unknown1",
        ]
        assert len(faults) == 51
        empty = 2  # pydantic goes on to say that no good hole, and so no good construct, is left
        assert str(faults[-1]) == f"and {20 * len(holes) + empty - 50} more"

    def test_fifty_are_all_told(self) -> None:
        document = json.loads(json.dumps(EXAMPLE))
        for hole in document["constructs"][0]["holes"][:2]:
            hole.update({f"unknown{n}": 1 for n in range(24)})
        document["title"] = ""  # the construct that is left without holes is the fiftieth
        faults = self.refused(document)
        assert len(faults) == 50
        assert all(fault.path for fault in faults)

    def test_a_part_with_heaps_of_keys_is_one_fault_that_names_the_known(self) -> None:
        (fault,) = self.refused({**EXAMPLE, **{f"k{n}": 1 for n in range(100_000)}})
        assert "100" in fault.message
        assert "bone_quality" in fault.message

    def test_an_endless_order_ends_at_its_first_fault(self) -> None:
        document = json.loads(json.dumps(EXAMPLE))
        document["constructs"][0]["order"] = ["x"] * 100_000
        assert [fault.path for fault in self.refused(document)] == ["constructs.0.order.0", "constructs"]

    def test_endless_names_are_cut(self) -> None:
        (fault,) = self.refused({**EXAMPLE, "k" * 1_000_000: 1})
        assert len(str(fault)) < 200

    def test_an_edit_names_its_place_and_is_capped_too(self) -> None:
        with pytest.raises(InvalidCase) as caught:
            parse_edit({"op": "set_order", "order": ["x"] * 100_000})
        assert [fault.path for fault in caught.value.faults] == ["set_order.order.0"]


def test_bytes_that_are_no_text_are_told_as_such() -> None:
    with pytest.raises(InvalidCase, match=r"not text in UTF-8: byte 11 "):
        parse_case(b'{"title": \xff\xff}')


class TestCodes:
    """AO/OTA compendium 2018 (J Orthop Trauma 2018;32(1 Suppl)): humerus 12A1 A2 A3 B2 B3 C2 C3, no B1 and no C1."""

    @pytest.mark.parametrize("bone", ["humerus", "radius", "ulna", "femur", "tibia"])
    def test_no_b1_and_no_c1(self, bone: str) -> None:
        assert patterns_of(bone) == ("A1", "A2", "A3", "B2", "B3", "C2", "C3")

    @pytest.mark.parametrize("code", ["12A2", "2R2A3", "2U2C3", "32B2", "42C2", "4F2A", "15.2B"])
    def test_codes_of_the_case_format_exist(self, code: str) -> None:
        assert parse_code(code.lower()).text == code

    @pytest.mark.parametrize("code", ["12B1", "42C1", "22A1", "4F2C", "15.2A1", "", "12"])
    def test_others_do_not(self, code: str) -> None:
        with pytest.raises(ValueError, match="known"):
            parse_code(code)

    def test_every_code_reads_back(self) -> None:
        assert all(parse_code(text).text == text and parse_code(text).name for text in ALL_CODES)


def test_notes_put_away_are_a_short_set() -> None:
    """The demand is our own: at most 60, by rule and subject, kept sorted, each once."""
    away = [{"rule": "two-bones"}, {"rule": "contour", "subject": "plate h3"}, {"rule": "two-bones", "subject": None}]
    kept = parse_case(json.dumps({**EXAMPLE, "acknowledged": away})).acknowledged
    assert [(one.rule, one.subject) for one in kept] == [("contour", "plate h3"), ("two-bones", None)]
    many = {**EXAMPLE, "acknowledged": [{"rule": "contour", "subject": f"h{n}"} for n in range(61)]}
    assert len(parse_case(json.dumps({**many, "acknowledged": many["acknowledged"][:60]})).acknowledged) == 60
    with pytest.raises(InvalidCase, match="acknowledged"):
        parse_case(json.dumps(many))
