"""Whatever address takes ``construct``: a bone that isn't there is answered with 404 (RFC 9110, 15.5.5), never another.

The routes are read from the server itself, so that none that is added later can be forgotten.
"""

from collections.abc import Iterator

import pytest
from fastapi import FastAPI
from fastapi.dependencies.models import Dependant
from fastapi.routing import iter_route_contexts
from fastapi.testclient import TestClient
from pydantic import BaseModel

from app.case.models import MAX_CONSTRUCTS
from tests.cases import humerus
from tests.client import Stored

IN_PLACE = {"bone": "radius", "step": "1", "code": "12A2"}
KNOWN = {
    "/cases/{case_id}", "/cases/{case_id}/compare", "/cases/{case_id}/whatifs", "/cases/{case_id}/conference",
    "/cases/{case_id}/drawing.svg", "/cases/{case_id}/drawing.png", "/api/v1/cases/{case_id}/layouts",
    "/api/v1/cases/{case_id}/more-lags", "/api/v1/cases/{case_id}/picture", "/api/v1/cases/{case_id}/steps/{step}",
}  # fmt: skip


def names(dependant: Dependant) -> Iterator[str]:
    """What a route takes from the address; a parameter that is a model stands for its fields."""
    for parameter in dependant.query_params:
        kind = parameter.field_info.annotation
        if isinstance(kind, type) and issubclass(kind, BaseModel):
            yield from (field.alias or name for name, field in kind.model_fields.items())
        else:
            yield parameter.alias
    for inner in dependant.dependencies:
        yield from names(inner)


def addresses(app: FastAPI) -> Iterator[str]:
    """Paths of all routes that take ``construct`` in the address, those of pages included."""
    for route in iter_route_contexts(app.router.routes):
        dependant = getattr(route, "dependant", None)
        if route.path is not None and dependant is not None and "construct" in names(dependant):
            yield route.path


@pytest.fixture
def asked(client: TestClient) -> list[str]:
    assert isinstance(client.app, FastAPI)
    found = list(addresses(client.app))
    assert set(found) >= KNOWN
    return found


@pytest.mark.parametrize(("count", "bones"), [(1, "1 bone"), (2, "2 bones")])
def test_a_bone_that_is_not_there_is_not_found(client: TestClient, asked: list[str], count: int, bones: str) -> None:
    document = humerus()
    document["constructs"] = document["constructs"][:1] * count
    stored = Stored(client, document)
    for path in asked:
        address = path.format(case_id=stored.id, **IN_PLACE)
        there = client.get(address, params={"construct": count - 1})
        assert there.status_code == 200, (address, there.text[:300])
        for index in (*range(count, MAX_CONSTRUCTS + 1), 63):
            answer = client.get(address, params={"construct": index}, headers={"Accept": "application/json"})
            told = f"This case has {bones}; there is no number {index + 1}."
            assert (answer.status_code, told in answer.text) == (404, True), (address, index, answer.text[:300])


def test_what_is_no_number_of_a_bone_is_refused(client: TestClient, asked: list[str], stored: Stored) -> None:
    for path in asked:
        address = path.format(case_id=stored.id, **IN_PLACE)
        for index in (-1, 64, "one"):
            assert client.get(address, params={"construct": index}).status_code == 422, (address, index)


def test_a_page_whose_bone_was_just_removed_is_shown_the_last_one(client: TestClient) -> None:
    document = humerus()
    document["constructs"] = document["constructs"][:1] * 2
    stored = Stored(client, document)
    gone = stored.edit({"op": "remove_construct", "target": 1}, construct=1)
    assert (gone.status_code, gone.json()["construct"]) == (200, 0)
    assert stored.preview(None, construct=1).json()["construct"] == 0
