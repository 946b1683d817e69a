"""Refusals are in our words. What a library would have said comes from pydantic itself, a general-purpose library."""

from typing import Any, get_args

import pytest
from pydantic_core import PydanticKnownError, core_schema

from app.case import InvalidCase, parse_case, parse_edit
from app.case.refusals import OTHERWISE, OWN, WORDS, in_words

CONTEXT: dict[str, Any] = {
    "gt": 1, "ge": 1, "lt": 1, "le": 1, "min_length": 2, "max_length": 3, "actual_length": 4, "field_type": "List",
    "pattern": "^a$", "expected": "'a', 'b' or 'c'", "discriminator": "'op'", "tag": "x", "expected_tags": "'a', 'b'",
    "error": "Expecting value", "class_name": "Case",
}  # fmt: skip
THEIRS = ("Input ", "Field ", "Extra ", "String ", "Value ", "Tuple ", "List ", "validation", "instance", "Unable")


@pytest.mark.parametrize("kind", sorted(WORDS))
def test_every_kind_is_one_of_pydantics_and_is_told_otherwise(kind: str) -> None:
    assert kind in get_args(core_schema.ErrorType)
    told = in_words({"type": kind, "msg": "Input should be something", "ctx": CONTEXT})
    assert told != OTHERWISE
    assert not any(word in told for word in THEIRS)
    if kind not in ("enum", "union_tag_invalid"):  # these take more to make
        known = {name: value for name, value in CONTEXT.items() if f"{{{name}}}" in _template(kind)}
        assert told != PydanticKnownError(kind, known or None).message()  # type: ignore[arg-type]


def _template(kind: str) -> str:
    try:
        return str(PydanticKnownError(kind, CONTEXT).message_template)  # type: ignore[arg-type]
    except TypeError:
        return ""


def test_kinds_without_words_say_no_more_than_that_it_is_not_allowed() -> None:
    others = set(get_args(core_schema.ErrorType)) - set(WORDS) - OWN
    assert {in_words({"type": kind, "msg": "Input should be a valid thing"}) for kind in others} == {OTHERWISE}


EDITS: list[Any] = [
    [], 5, {"op": "zz"}, {}, {"op": "move_fracture"}, {"op": "move_fracture", "target": 0, "position_mm": "x"},
    {"op": "move_fracture", "target": -1, "position_mm": 1}, {"op": "move_fracture", "line": 0.5, "position_mm": 1},
    {"op": "move_fracture", "position_mm": float("inf")}, {"op": "set_plate", "series": "x", "holes": 99},
    {"op": "set_role", "hole": 1, "role": "q"}, {"op": "add_lag", "value": {"position_mm": 5, "foo": 1}},
    {"op": "together", "edits": []}, {"op": "set_order", "order": "h1"}, {"op": "set_title", "title": 5},
]  # fmt: skip


@pytest.mark.parametrize("edit", EDITS, ids=str)
def test_no_refused_edit_speaks_pydantics_language(edit: Any) -> None:
    with pytest.raises(InvalidCase) as refused:
        parse_edit(edit)
    assert not any(word in str(fault) for fault in refused.value.faults for word in THEIRS)
    assert not any(OTHERWISE in str(fault) for fault in refused.value.faults)


def test_a_file_that_is_no_json_is_told_where() -> None:
    with pytest.raises(InvalidCase, match="not valid JSON from line 2, column 3 on"):
        parse_case('{"a": 1,\n  x}')
