"""Fishplate on a port of its own: in a thread of the test's own process, or as people start it."""

import os
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import httpx
import uvicorn

from app.web import Settings, create_app

ROOT = Path(__file__).parents[1]


class Server:
    """Fishplate on a free port (or a given one), in a thread."""

    def __init__(self, data_dir: Path, phrase: str | None = None, port: int = 0) -> None:
        self.app = create_app(Settings(data_dir=data_dir, phrase=phrase))
        config = uvicorn.Config(
            self.app,
            host="127.0.0.1",
            port=port,
            log_level="error",
            timeout_graceful_shutdown=1,
            http="app.web.http.connections:Limited",
            ws="app.web.http.websocket_protocol:protocol",
        )
        self.server = uvicorn.Server(config)
        self.thread = threading.Thread(target=self.server.run, daemon=True)

    def start(self) -> str:
        self.thread.start()
        for _ in range(400):
            if self.server.started:
                port = self.server.servers[0].sockets[0].getsockname()[1]
                return f"http://127.0.0.1:{port}"
            time.sleep(0.025)
        raise RuntimeError("the server did not start within 10 s")

    def stop(self) -> None:
        self.app.state.server.changes.close()  # as a signal to stop does, which a thread doesn't get
        self.server.should_exit = True
        self.thread.join(timeout=10)


def free_port() -> int:
    with socket.socket() as tried:
        tried.bind(("127.0.0.1", 0))
        return int(tried.getsockname()[1])


@contextmanager
def started(data: Path, workers: int = 1, **settings: str) -> Iterator[tuple[str, "subprocess.Popen[bytes]"]]:
    """``fishplate serve`` with these environment variables; at the end it must stop by itself when told to."""
    port = free_port()
    command = [sys.executable, "-m", "app.cli", "serve", "--port", str(port), "--data", str(data)]
    told = {key: value for key, value in os.environ.items() if not key.startswith("FISHPLATE_")} | settings
    log = (data.parent / f"{data.name}-{port}.log").open("w+")
    process = subprocess.Popen([*command, "--workers", str(workers)], cwd=ROOT, env=told, stdout=log, stderr=log)
    url = f"http://127.0.0.1:{port}"
    try:
        _wait_until_ready(process, url)
        yield url, process
    finally:
        process.terminate()
        process.wait(15)
        log.seek(0)
        said = log.read()
        log.close()
    assert "Traceback" not in said, said


@contextmanager
def served(data: Path, database_url: str | None, workers: int = 1) -> Iterator[str]:
    """The same on this database, or else on a file in the folder; its address."""
    database = {} if database_url is None else {"FISHPLATE_DATABASE_URL": database_url}
    with started(data, workers, **database) as (url, _):
        yield url


def _wait_until_ready(process: "subprocess.Popen[bytes]", url: str) -> None:
    deadline = time.monotonic() + 120  # of a machine that is busy with other tests
    while True:
        assert process.poll() is None, "the server stopped by itself"
        try:
            if httpx.get(f"{url}/health/ready").status_code == 200:
                return
        except httpx.HTTPError:
            pass
        assert time.monotonic() < deadline, "the server did not become ready"
        time.sleep(0.1)
