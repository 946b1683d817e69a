"""Liveness, readiness, and the server as it is started: addresses, phrases, workers, its end."""

import os
import re
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import httpx2
import pytest
from starlette.testclient import TestClient

from app import cli
from app.store import Store
from app.store.probe import HELD_S, Probe
from app.web import Settings
from app.web.access.tokens import UnfitPhrase
from app.web.factory import check_listening, from_environment
from tests.entrance import PHRASE, serving
from tests.serving import free_port
from tests.store.troubled import TROUBLES


@pytest.fixture
def client(tmp_path: Path) -> Iterator[TestClient]:
    with serving(tmp_path) as started:
        yield started


def test_live_and_ready(client: TestClient) -> None:
    assert client.get("/health/live").json() == {"status": "live"}
    assert client.get("/health/ready").json() == {"status": "ready"}


def test_not_ready_without_the_database_but_alive(client: TestClient, tmp_path: Path) -> None:
    client.app.state.server.store.close()
    for file in tmp_path.glob("fishplate.db*"):
        file.unlink()
    (tmp_path / "fishplate.db").mkdir()  # so that SQLite can't open it
    answer = client.get("/health/ready")
    assert answer.status_code == 503
    assert answer.json()["error"].startswith("Not ready: the file with the cases is not where it was")
    assert client.get("/health/live").status_code == 200


@pytest.fixture
def asked_anew(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("app.store.probe.HELD_S", 0.0)


@pytest.mark.usefixtures("asked_anew")
@pytest.mark.parametrize("name", TROUBLES)
def test_ready_tells_the_truth_and_is_ready_again_afterwards(client: TestClient, name: str) -> None:
    bring, what, _ = TROUBLES[name]
    assert client.get("/health/ready").status_code == 200
    store: Store = client.app.state.server.store
    if name == "full":
        store.tidy()
    mend = bring(store)
    answer = client.get("/health/ready")
    assert answer.status_code == 503
    assert what in answer.json()["error"]
    assert client.get("/health/live").status_code == 200
    mend()
    assert client.get("/health/ready").status_code == 200


def test_a_crowd_of_probes_writes_once_a_second(client: TestClient, monkeypatch: pytest.MonkeyPatch) -> None:
    looked = []
    look = Probe.look
    monkeypatch.setattr(Probe, "look", lambda self: looked.append(1) or look(self))  # type: ignore[func-returns-value]
    begun = time.monotonic()
    for _ in range(20):
        assert client.get("/health/ready").status_code == 200
    assert 1 <= len(looked) <= 1 + (time.monotonic() - begun) / HELD_S


def test_a_probe_leaves_nothing_behind(client: TestClient) -> None:
    store: Store = client.app.state.server.store
    with store.engine.connect() as connection:
        before = connection.exec_driver_sql("SELECT count(*) FROM secret").scalar()
    assert store.trouble() is None
    with store.engine.connect() as connection:
        assert connection.exec_driver_sql("SELECT count(*) FROM secret").scalar() == before


def test_a_probe_may_call_by_any_name(client: TestClient) -> None:
    assert client.get("/health/ready", headers={"host": "10.1.2.3:8017"}).status_code == 200


# Settings


def test_settings_from_the_environment(tmp_path: Path) -> None:
    file = tmp_path / "phrase"
    file.write_text(f"{PHRASE}\n", encoding="utf-8")
    settings = from_environment(
        {
            "FISHPLATE_DATA": "cases",
            "FISHPLATE_DATABASE_URL": "postgresql://db/fishplate",
            "FISHPLATE_STOCK": "stock.toml",
            "FISHPLATE_THRESHOLDS": "",
            "FISHPLATE_PHRASE": "this one is overridden",
            "FISHPLATE_PHRASE_FILE": str(file),
            "FISHPLATE_HOSTS": "plates.example, 10.1.2.3",
            "FISHPLATE_THIN_AFTER_DAYS": "365",
            "HOME": "/nowhere",
        }
    )
    assert settings == Settings(
        Path("cases"),
        "postgresql://db/fishplate",
        Path("stock.toml"),
        None,
        PHRASE,
        ("plates.example", "10.1.2.3"),
        thin_after_days=365,
    )
    assert PHRASE not in repr(settings)
    assert from_environment({}) == Settings(Path("data"))


@pytest.mark.parametrize("host", ["127.0.0.1", "127.8.9.1", "::1", "localhost"])
def test_on_this_machine_no_phrase_is_needed(host: str) -> None:
    assert not refused(host)


def refused(host: str) -> bool:
    try:
        check_listening(host, Settings(Path("data")))
    except UnfitPhrase:
        return True
    return False


@pytest.mark.parametrize("host", ["0.0.0.0", "::", "192.168.1.7", "fe80::1", "plates.example", "", "localhost.example"])
def test_elsewhere_a_phrase_is_needed(host: str) -> None:
    with pytest.raises(UnfitPhrase, match="--phrase-file"):
        check_listening(host, Settings(Path("data")))
    check_listening(host, Settings(Path("data"), phrase=PHRASE))


def test_going_by_a_name_of_the_network_needs_one_too() -> None:
    with pytest.raises(UnfitPhrase, match=r"plates\.example"):
        check_listening("127.0.0.1", Settings(Path("data"), hosts=("plates.example",)))


# The command


@pytest.fixture
def quiet_environment(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """The command tells its workers through the environment: put everything back."""
    for name in ("DATA", "DATABASE_URL", "STOCK", "THRESHOLDS", "PHRASE", "PHRASE_FILE", "HOSTS"):
        monkeypatch.setenv(f"FISHPLATE_{name}", "")
    monkeypatch.chdir(tmp_path)


@pytest.mark.usefixtures("quiet_environment")
def test_serving_others_without_a_phrase_is_refused(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("uvicorn.run", lambda *_, **__: pytest.fail("it started"))
    assert cli.main(["serve", "--host", "0.0.0.0"]) == 2
    assert "0.0.0.0 can be reached by others, so an access phrase is needed" in capsys.readouterr().err
    monkeypatch.setenv("FISHPLATE_PHRASE", "short")
    assert cli.main(["serve", "--host", "0.0.0.0"]) == 2
    assert "too short" in capsys.readouterr().err
    assert cli.main(["serve", "--phrase-file", "missing"]) == 2
    assert "missing" in capsys.readouterr().err


@pytest.mark.usefixtures("quiet_environment")
@pytest.mark.parametrize("words", [["0"], ["-1"], ["two"]])
def test_a_server_has_at_least_one_worker(words: list[str]) -> None:
    with pytest.raises(SystemExit) as ended:
        cli.main(["serve", "--workers", *words])
    assert ended.value.code == 2


@pytest.mark.usefixtures("quiet_environment")
def test_the_options_reach_the_workers(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    (tmp_path / "phrase").write_text(PHRASE, encoding="utf-8")
    told: dict[str, object] = {}
    monkeypatch.setattr("uvicorn.run", lambda app, **options: told.update(options, app=app))
    words = "serve --host 0.0.0.0 --workers 3 --data d --phrase-file phrase --allow-host a.example"
    assert cli.main(words.split()) == 0
    assert told["app"] == "app.web.factory:create"
    assert (told["workers"], told["factory"], told["timeout_graceful_shutdown"]) == (3, True, 1)
    assert from_environment(os.environ) == Settings(Path("d"), phrase=PHRASE, hosts=("a.example",))


@pytest.fixture
def two_workers(tmp_path: Path) -> Iterator[tuple[subprocess.Popen[bytes], str]]:
    port = free_port()
    environment = {name: value for name, value in os.environ.items() if not name.startswith("FISHPLATE_")}
    environment["FISHPLATE_PHRASE"] = PHRASE
    words = ["serve", "--host", "0.0.0.0", "--port", str(port), "--workers", "2", "--data", str(tmp_path)]
    command = [sys.executable, "-m", "app.cli", *words]
    server = subprocess.Popen(command, env=environment, cwd=Path(cli.__file__).parents[1])
    try:
        yield server, f"http://127.0.0.1:{port}"
    finally:
        server.terminate()
        try:
            server.wait(15)
        except subprocess.TimeoutExpired:
            server.kill()


def until_ready(url: str, patience_s: float = 120) -> None:
    deadline = time.monotonic() + patience_s
    while time.monotonic() < deadline:
        try:
            if httpx2.get(f"{url}/health/ready").status_code == 200:
                return
        except httpx2.TransportError:
            time.sleep(0.1)
    pytest.fail("the server did not become ready")


def children(pid: int) -> set[int]:
    """Worker processes, on Linux; other children of the command are Python's own trackers."""
    found = Path(f"/proc/{pid}/task/{pid}/children").read_text(encoding="ascii").split()
    return {int(one) for one in found if b"spawn_main" in Path(f"/proc/{one}/cmdline").read_bytes()}


@pytest.mark.skipif(not Path("/proc/self/task").exists(), reason="counts worker processes in /proc")
def test_two_workers_share_cookies_and_links_and_end_soon(two_workers: tuple[subprocess.Popen[bytes], str]) -> None:
    server, url = two_workers
    until_ready(url)
    assert len(children(server.pid)) == 2
    signed = httpx2.post(f"{url}/signin", data={"phrase": PHRASE})
    assert signed.status_code == 303
    cookie = re.match("fishplate=([^;]+)", signed.headers["set-cookie"])
    assert cookie is not None
    headers = {"cookie": cookie.group(0)}
    # A connection each, so that the system hands them to either worker.
    for _ in range(20):
        assert httpx2.get(f"{url}/api/v1/cases", headers=headers).status_code == 200
        assert httpx2.get(f"{url}/api/v1/cases").status_code == 401
    begun = time.monotonic()
    server.send_signal(signal.SIGTERM)
    server.wait(15)
    assert time.monotonic() - begun < 8


@pytest.mark.skipif(not Path("/proc/self/task").exists(), reason="looks for worker processes in /proc")
def test_workers_end_with_the_process_that_started_them_however_it_ended(
    two_workers: tuple[subprocess.Popen[bytes], str],
) -> None:
    server, url = two_workers
    until_ready(url)
    workers = children(server.pid)
    assert len(workers) == 2
    server.kill()
    server.wait(5)
    deadline = time.monotonic() + 8
    while any(running(one) for one in workers) and time.monotonic() < deadline:
        time.sleep(0.05)
    assert not [one for one in workers if running(one)]
    with pytest.raises(httpx2.TransportError):
        httpx2.get(f"{url}/health/live")


def running(pid: int) -> bool:
    try:
        return Path(f"/proc/{pid}/stat").read_text(encoding="ascii").rsplit(")", 1)[1].split()[0] != "Z"
    except OSError:
        return False


@pytest.mark.usefixtures("quiet_environment")
@pytest.mark.parametrize("workers", ["1", "3"])
@pytest.mark.parametrize(
    ("content", "says"), [(b"no database " * 500, "the database is damaged"), (None, "may not be opened")]
)
def test_a_start_on_a_broken_database_is_one_sentence(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], content: bytes | None, says: str, workers: str
) -> None:
    file = tmp_path / "data" / "fishplate.db"
    file.parent.mkdir()
    if content is None:
        file.mkdir()
    else:
        file.write_bytes(content)
    assert cli.main(["serve", "--data", str(file.parent), "--workers", workers, "--port", str(free_port())]) == 2
    told = capsys.readouterr().err
    assert says in told.lower()
    assert told.count("\n") == 1
    assert "Traceback" not in told
