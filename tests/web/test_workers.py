"""Several processes on one database, as people start them: several machines, and several workers of one."""

import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack
from pathlib import Path

import httpx
import pytest

from tests.cases import humerus
from tests.entrance import PHRASE
from tests.listening import Stream, listening
from tests.serving import served, started

MOVE = {"op": "move_fracture", "target": 0, "line": 0, "position_mm": 161.0}
Held = dict[str, str]
DATABASES = [pytest.param("sqlite"), pytest.param("postgresql", marks=pytest.mark.postgres)]


@pytest.fixture(scope="module", params=DATABASES)
def three_workers(
    request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[tuple[str, Held]]:
    """A server with three workers, which takes longer to start than anything that is asked of it, and a session."""
    with ExitStack() as stack:
        settings = {"FISHPLATE_PHRASE": PHRASE}
        if request.param == "postgresql":
            database = request.getfixturevalue("postgres_server").new_database()
            settings["FISHPLATE_DATABASE_URL"] = stack.enter_context(database)
        folder = tmp_path_factory.mktemp("three") / "data"
        url, _ = stack.enter_context(started(folder, workers=3, **settings))
        yield url, signed_in(url)


@pytest.fixture(params=DATABASES)
def database_url(request: pytest.FixtureRequest) -> str | None:
    return None if request.param == "sqlite" else str(request.getfixturevalue("empty_postgres_url"))


def signed_in(url: str) -> Held:
    """A new session, as the headers that carry it."""
    answer = httpx.post(f"{url}/signin", data={"phrase": PHRASE})
    assert answer.status_code == 303, answer.text
    return {"Cookie": "; ".join(f"{name}={value}" for name, value in answer.cookies.items())}


def new_case(url: str, held: Held | None = None) -> str:
    return f"/api/v1/cases/{httpx.post(f'{url}/api/v1/cases', json=humerus(), headers=held).json()['id']}"


def edit(url: str, case: str, version: int, held: Held | None = None) -> int:
    """Over a connection of its own, so that any worker may take it; answers the version after."""
    body = {"edit": {"op": "set_note", "note": f"{version}"}}
    headers = {"If-Match": f'"{version}"', **(held or {})}
    answer = httpx.post(f"{url}{case}/edits", json=body, headers=headers, timeout=20)
    assert answer.status_code == 200, answer.text
    return int(answer.json()["version"])


@pytest.mark.serial
@pytest.mark.postgres
def test_a_follower_on_another_machine_hears_of_edits_and_drags_within_a_second(
    tmp_path: Path, empty_postgres_url: str
) -> None:
    with served(tmp_path / "a", empty_postgres_url) as here, served(tmp_path / "b", empty_postgres_url) as there:
        case = new_case(here)
        with listening(there, f"{case}/events") as stream:
            stream.next()
            begun = time.monotonic()
            edit(here, case, 1)
            stream.until("version", version=2)
            assert time.monotonic() - begun < 3  # 1 s where nothing else runs
            begun = time.monotonic()
            assert httpx.post(f"{here}{case}/preview", json={"edit": MOVE}).status_code == 200
            assert stream.until("preview").data["edit"] == MOVE
            assert time.monotonic() - begun < 3  # 1 s where nothing else runs
            httpx.post(f"{here}{case}/whatifs", json={})
            stream.until("pins", count=1)
        picture = httpx.get(f"{there}{case}/picture").json()
        assert picture["version"] == 2
        # What one machine signed the other takes: their secret lies in the database, and needs no file.
        link = httpx.post(f"{here}{case}/reader-link").json()["path"]
        assert httpx.get(f"{there}{link}{case}/picture").json()["version"] == 2
    assert not list(tmp_path.rglob("fishplate.key"))


@pytest.mark.serial
def test_with_two_workers_every_follower_hears_every_last_edit(tmp_path: Path, database_url: str | None) -> None:
    with served(tmp_path / "data", database_url, workers=2) as url, ExitStack() as open_streams:
        case = new_case(url)
        streams: list[Stream] = [
            open_streams.enter_context(listening(url, f"{case}/events")) for _ in range(8)
        ]  # enough that both workers have some
        for stream in streams:
            stream.next()
        version = 1
        for _ in range(6):
            version = edit(url, case, version)
            begun = time.monotonic()
            for stream in streams:
                stream.until("version", version=version)
            assert time.monotonic() - begun < 3  # 1 s where nothing else runs


def test_two_writers_lose_nothing(three_workers: tuple[str, Held]) -> None:
    """Both write on one case through any worker; whoever comes second is told, and writes again on what is there."""
    (url, held), each = three_workers, 8
    case = new_case(url, held)

    def write(name: str) -> None:
        version = 1
        for number in range(each):
            while True:
                body = {"edit": {"op": "set_note", "note": f"{name} {number}"}}
                headers = {"If-Match": f'"{version}"', **held}
                answer = httpx.post(f"{url}{case}/edits", json=body, headers=headers, timeout=20)
                version = int(answer.headers["etag"].strip('"'))
                if answer.status_code == 200:
                    break
                assert answer.status_code == 412, answer.text

    with ThreadPoolExecutor(2) as pool:
        list(pool.map(write, ("first", "second")))
    assert httpx.get(f"{url}{case}", headers=held).json()["version"] == 1 + 2 * each
    assert len(httpx.get(f"{url}{case}/revisions", headers=held).json()) == 1 + 2 * each


def test_a_write_that_reaches_several_workers_happens_once(three_workers: tuple[str, Held]) -> None:
    """As a page sends it again that thinks its first try lost, while another worker is still at it."""
    url, held = three_workers
    case = new_case(url, held)
    for version in range(1, 6):
        line = {"op": "add_line", "target": 0, "value": {"position_mm": 140 + version}}
        body = {"edit": line if version == 1 else {"op": "set_note", "note": f"{version}"}}
        headers = {"If-Match": f'"{version}"', "Idempotency-Key": f'"the-edit-of-{version}"', **held}

        def send(_: int, body: object = body, headers: dict[str, str] = headers) -> tuple[int, str]:
            answer = httpx.post(f"{url}{case}/edits", json=body, headers=headers, timeout=20)
            return answer.status_code, answer.headers.get("ETag", answer.text)

        with ThreadPoolExecutor(6) as pool:
            assert set(pool.map(send, range(6))) == {(200, f'"{version + 1}"')}
    assert len(httpx.get(f"{url}{case}/revisions", headers=held).json()) == 6


def test_a_session_signed_out_ends_at_every_worker(three_workers: tuple[str, Held]) -> None:
    """Also for what it has open, whichever worker serves it; another session goes on."""
    url, other = three_workers
    held, case = signed_in(url), new_case(url, other)

    def answers(headers: Held) -> set[int]:
        """Of as many connections at once as let every worker have some."""
        with ThreadPoolExecutor(8) as pool:
            return set(
                pool.map(lambda _: httpx.get(f"{url}{case}", headers=headers, timeout=20).status_code, range(24))
            )

    with ExitStack() as open_streams:
        theirs, others = (
            [open_streams.enter_context(listening(url, f"{case}/events", headers)) for _ in range(6)]
            for headers in (held, other)
        )
        assert answers(held) == {200}
        assert httpx.post(f"{url}/signout", headers=held).status_code == 303
        for stream in theirs:
            assert stream.ended.wait(10)
        deadline = time.monotonic() + 10
        while answers(held) != {401}:
            assert time.monotonic() < deadline
            time.sleep(0.2)
        assert answers(other) == {200}
        edit(url, case, 1, other)
        for stream in others:
            stream.until("version", version=2)
