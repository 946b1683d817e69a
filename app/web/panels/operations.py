"""The API's own description as rows for a page."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True, slots=True)
class Operation:
    """One method at one address."""

    method: str
    path: str
    says: str
    parameters: tuple[str, ...]
    body: str
    answers: tuple[tuple[str, str], ...]


def operations(document: dict[str, Any]) -> tuple[Operation, ...]:
    """All operations of an OpenAPI document, in its order."""
    return tuple(_all(document))


def _all(document: dict[str, Any]) -> Iterator[Operation]:
    for path, methods in document["paths"].items():
        for method, told in methods.items():
            yield Operation(
                method.upper(),
                path,
                told.get("description") or told.get("summary", ""),
                tuple(f"{one['name']} ({one['in']})" for one in told.get("parameters", ())),
                _body(told),
                tuple((code, answer["description"]) for code, answer in sorted(told["responses"].items())),
            )


def _body(told: dict[str, Any]) -> str:
    kinds = told.get("requestBody", {}).get("content", {})
    return ", ".join(f"{kind}: {_name(content.get('schema', {}))}" for kind, content in kinds.items())


def _name(schema: dict[str, Any]) -> str:
    reference: str = schema.get("$ref", "")
    return reference.rpartition("/")[2] or schema.get("title", schema.get("type", "value"))
