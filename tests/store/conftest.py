"""A store on each database the program runs on."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

from app.case import Case, parse_case
from app.store import Store
from tests.postgres import Server

DATABASES = [pytest.param("sqlite"), pytest.param("postgresql", marks=pytest.mark.postgres)]


@pytest.fixture(scope="session")
def migrated_postgres_url(postgres_server: Server) -> str:
    postgres_server.run("CREATE DATABASE migrated")
    url = postgres_server.url("migrated")
    Store(url).close()
    return url


@pytest.fixture
def postgres_url(postgres_server: Server, migrated_postgres_url: str) -> str:
    """One database for all tests, emptied before each: making a new one takes a third of a second."""
    postgres_server.run("TRUNCATE document, revision, content, listed, whatif, write_key", "migrated")
    return migrated_postgres_url


@pytest.fixture
def sqlite_url(tmp_path: Path) -> str:
    return f"sqlite:///{tmp_path}/data/fishplate.db"


@pytest.fixture(params=DATABASES)
def store_url(request: pytest.FixtureRequest) -> str:
    return str(request.getfixturevalue("sqlite_url" if request.param == "sqlite" else "postgres_url"))


@pytest.fixture(params=DATABASES)
def empty_url(request: pytest.FixtureRequest) -> str:
    """A database as nothing has ever opened it."""
    return str(request.getfixturevalue("sqlite_url" if request.param == "sqlite" else "empty_postgres_url"))


@dataclass
class Told:
    """What the store said it changed."""

    changes: list[tuple[str, int]]

    def __call__(self, document_id: str, version: int) -> None:
        self.changes.append((document_id, version))


@pytest.fixture
def told() -> Told:
    return Told([])


@pytest.fixture
def store(store_url: str, told: Told) -> Iterator[Store]:
    opened = Store(store_url, told)
    yield opened
    opened.close()


@pytest.fixture(scope="session")
def titled() -> Callable[[str], Case]:
    """A valid case with a title."""
    case = parse_case(
        """{"format": "fishplate-case/2", "title": "Shaft", "note": "tabs\\tand\\nbreaks, 5 µm × 40°",
            "constructs": [{
                "bone": {"name": "humerus", "length_mm": 310},
                "fracture": {"code": "12a2", "lines": [{"position_mm": 160.1, "obliquity_deg": 40}]},
                "principle": "compression",
                "plate": {"series": "large-narrow-4.5", "holes": 3, "centre_mm": 160},
                "holes": [{"role": "neutral"}, {}, {"role": "lag", "tilt_deg": -20}],
                "lag_screws": [{"position_mm": 150}]}]}"""
    )
    return lambda title: case.model_copy(update={"title": title})
