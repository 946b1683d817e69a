"""A server in this process, with a database of its own."""

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient

from app.web import Settings, create_app
from tests.cases import humerus


@pytest.fixture(scope="session")
def client(tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    folder: Path = tmp_path_factory.mktemp("web")
    with TestClient(
        create_app(Settings(data_dir=folder)), base_url="http://127.0.0.1", raise_server_exceptions=False
    ) as client:
        yield client


class Stored:
    """A stored case and what may be asked of it."""

    def __init__(self, client: TestClient, document: dict[str, Any]) -> None:
        self.client = client
        answer = client.post("/api/v1/cases", json=document)
        assert answer.status_code == 201, answer.text
        self.id: str = answer.json()["id"]
        self.path = f"/api/v1/cases/{self.id}"

    def get(self) -> dict[str, Any]:
        found: dict[str, Any] = self.client.get(self.path).json()
        return found

    def edit(self, edit: dict[str, Any], version: int | None = None, **more: Any) -> Any:
        version = self.get()["version"] if version is None else version
        headers = {"If-Match": f'"{version}"'}
        return self.client.post(f"{self.path}/edits", json={"edit": edit, **more}, headers=headers)

    def preview(self, edit: dict[str, Any] | None, **more: Any) -> Any:
        return self.client.post(f"{self.path}/preview", json={"edit": edit, **more})

    def move(self, way: str, version: int | None = None) -> Any:
        version = self.get()["version"] if version is None else version
        return self.client.post(f"{self.path}/{way}", json={}, headers={"If-Match": f'"{version}"'})


@pytest.fixture
def stored(client: TestClient) -> Stored:
    return Stored(client, humerus())
