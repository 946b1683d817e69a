"""The assessment document: its schema is closed, and what is written keeps to it.

Checked with the ``jsonschema`` library against JSON Schema 2020-12 (https://json-schema.org/draft/2020-12).
"""

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from hypothesis import HealthCheck, given, settings
from jsonschema import Draft202012Validator

import app
from app.assess import assess, load_knowledge
from app.case import Case
from app.document import as_document
from app.samples import load_samples
from tests.strategies import cases

SHIPPED = Path(app.__file__).parents[1] / "static" / "schema" / "fishplate-assessment-2.json"
SCHEMA: dict[str, Any] = json.loads(SHIPPED.read_text(encoding="utf-8"))
VALIDATOR = Draft202012Validator(SCHEMA)
KNOWLEDGE = load_knowledge()


def objects(schema: Any, path: str = "") -> Iterator[tuple[str, dict[str, Any]]]:
    """Every schema of an object, with its place."""
    if isinstance(schema, dict):
        if schema.get("type") == "object":
            yield path, schema
        for key, part in schema.items():
            yield from objects(part, f"{path}/{key}".lstrip("/"))
    elif isinstance(schema, list):
        for number, part in enumerate(schema):
            yield from objects(part, f"{path}/{number}")


def faults(case: Case) -> list[str]:
    document = json.loads(json.dumps(as_document(assess(case, KNOWLEDGE))))
    return [f"{fault.json_path}: {fault.message}" for fault in VALIDATOR.iter_errors(document)]


def test_the_schema_is_closed() -> None:
    Draft202012Validator.check_schema(SCHEMA)
    found = dict(objects(SCHEMA))
    assert len(found) > 40
    bare = [
        place for place, one in found.items() if not ("properties" in one and one.get("additionalProperties") is False)
    ]
    assert bare == []


def test_a_key_too_many_is_refused() -> None:
    document: Any = as_document(assess(load_samples()[0].case, KNOWLEDGE))
    construct = document["constructs"][0]
    for part in (construct["mechanics"], construct["mechanics"]["load"], construct["order"][0]):
        part["more"] = 1
        assert not VALIDATOR.is_valid(json.loads(json.dumps(document)))
        del part["more"]
    assert VALIDATOR.is_valid(json.loads(json.dumps(document)))


def test_every_sample_keeps_to_the_schema() -> None:
    samples = load_samples()
    assert len(samples) > 5
    assert {sample.key: faults(sample.case) for sample in samples} == {sample.key: [] for sample in samples}


@settings(max_examples=50, suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much])
@given(cases())
def test_random_cases_keep_to_the_schema(case: Case) -> None:
    assert faults(case) == []
