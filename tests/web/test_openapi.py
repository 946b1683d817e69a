"""The API against its own description, by generated requests (schemathesis)."""

from collections.abc import Iterator
from typing import Any

import httpx
import pytest
import schemathesis
from fastapi.testclient import TestClient
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis.errors import Unsatisfiable
from schemathesis import GenerationMode
from schemathesis.checks import not_a_server_error
from schemathesis.specs.openapi.checks import (
    content_type_conformance,
    response_headers_conformance,
    response_schema_conformance,
    status_code_conformance,
)

from tests.cases import humerus
from tests.serving import Server

# Whether a request is taken also depends on the case, so "what the schema allows must be taken" is not asked.
CHECKS = [
    not_a_server_error,
    status_code_conformance,
    content_type_conformance,
    response_headers_conformance,
    response_schema_conformance,
]
EXAMPLES = 6


@pytest.fixture(scope="module")
def described(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[str, schemathesis.BaseSchema]]:
    server = Server(tmp_path_factory.mktemp("described"))
    url = server.start()
    httpx.post(f"{url}/api/v1/cases", json=humerus()).raise_for_status()
    loaded = schemathesis.openapi.from_url(f"{url}/api/v1/openapi.json")
    yield url, loaded.exclude(path_regex="/events$")  # a stream has no end; tests/web/test_events.py reads it
    server.stop()


def answers_as_described(url: str, operation: Any, mode: GenerationMode) -> None:
    """Requests made from one operation's description, the same ones each time.

    Those that keep to the description are sent to a case that is there, on its present version, so that they get past
    404, 412 and 428; those that break it go as they are.
    """

    @given(case=operation.as_strategy(generation_mode=mode))
    @settings(
        max_examples=EXAMPLES,
        derandomize=True,
        deadline=None,
        database=None,
        phases=[Phase.generate],
        suppress_health_check=list(HealthCheck),
    )
    def ask(case: schemathesis.Case) -> None:
        if mode is GenerationMode.POSITIVE and "case_id" in (case.path_parameters or {}):
            (stored,) = httpx.get(f"{url}/api/v1/cases").json()["cases"][-1:]
            case.path_parameters["case_id"] = stored["id"]
            if case.method == "POST":
                case.headers["If-Match"] = f'"{stored["version"]}"'
        case.call_and_validate(checks=CHECKS)

    ask()


@pytest.mark.parametrize("mode", [GenerationMode.POSITIVE, GenerationMode.NEGATIVE], ids=["kept", "broken"])
def test_every_operation_answers_as_described(
    described: tuple[str, schemathesis.BaseSchema], mode: GenerationMode
) -> None:
    url, schema = described
    asked, wrong = [], []
    for found in schema.get_all_operations():
        operation = found.ok()
        asked.append(operation.label)
        try:
            answers_as_described(url, operation, mode)
        except Unsatisfiable:
            pass  # nothing about this operation can be broken
        except Exception as failure:  # one report for all operations
            wrong.append(f"{operation.label}: {failure}")
    assert len(asked) >= 18, asked
    assert not wrong, "\n\n".join(wrong)


def test_the_description_names_every_operation_of_the_api(client: TestClient) -> None:
    paths = client.get("/api/v1/openapi.json").json()["paths"]
    assert {"/api/v1/cases/{case_id}/events", "/api/v1/cases/{case_id}/picture", "/health/ready"} <= set(paths)
    assert sum(len(methods) for methods in paths.values()) >= 18


def named_schemas(part: Any) -> Iterator[str]:
    if isinstance(part, dict):
        if isinstance(part.get("$ref"), str):
            yield part["$ref"]
        part = list(part.values())
    for inside in part if isinstance(part, list) else []:
        yield from named_schemas(inside)


def test_every_schema_that_the_description_names_is_in_it(client: TestClient) -> None:
    described = client.get("/api/v1/openapi.json").json()
    named = set(named_schemas(described["paths"])) | set(named_schemas(described["components"]))
    assert "#/components/schemas/Problem" in named
    assert named <= {f"#/components/schemas/{name}" for name in described["components"]["schemas"]}


def test_errors_are_described_as_they_come(client: TestClient) -> None:
    described = client.get("/api/v1/openapi.json").json()["paths"]["/api/v1/cases/{case_id}/events"]["get"]
    answer = client.get("/api/v1/cases/nothing/events")
    content = described["responses"]["404"]["content"]
    assert answer.status_code == 404
    assert list(content) == [answer.headers["content-type"].split(";")[0]]
    assert set(answer.json()) == {"status", "error", "faults"}
