"""Behind a real proxy, set as the README says: what the server can't tell of its clients is held off before it."""

import json
import re
import shutil
import socket
import subprocess
import time
from collections.abc import Iterator
from contextlib import ExitStack
from pathlib import Path
from urllib.parse import urlsplit

import httpx
import pytest
from websockets.sync.client import connect

from tests.cases import humerus
from tests.postgres import missing_program
from tests.serving import ROOT, free_port, started

HEAD_S = 2  # in place of the ten seconds that nobody should wait for here
EACH = 200
ROUND_IT = "daemon off; pid {folder}/pid; error_log {folder}/log; events {{ worker_connections 2048; }} http {{\n"
ROUND_IT += "access_log off; client_body_temp_path {folder}/body; proxy_temp_path {folder}/proxy;\n"
ROUND_IT += "fastcgi_temp_path {folder}/f; uwsgi_temp_path {folder}/u; scgi_temp_path {folder}/s;\n{documented}\n}}\n"


def documented(listen: int, server: str) -> str:
    """The README's settings, with addresses of this test, without TLS and with less patience."""
    found = re.search(r"```nginx\n(.*?)```", (ROOT / "README.md").read_text(encoding="utf-8"), re.DOTALL)
    assert found is not None
    text, seen = found[1], 0
    for old, new in (
        (r"listen 443 ssl;", f"listen 127.0.0.1:{listen};"),
        (r"http://127\.0\.0\.1:8017", server),
        (r"client_header_timeout 10s;", f"client_header_timeout {HEAD_S}s;"),
    ):
        text, count = re.subn(old, new, text)
        seen += count
    assert seen == 3
    return text


@pytest.fixture(scope="module")
def proxied(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    program = shutil.which("nginx") or shutil.which("nginx", path="/usr/sbin")
    if program is None:
        missing_program("nginx", "nginx-light")
    folder: Path = tmp_path_factory.mktemp("proxy")
    port = free_port()
    with started(folder / "data", FISHPLATE_PROXIES="127.0.0.1") as (server, _):
        settings = folder / "proxy.conf"
        settings.write_text(ROUND_IT.format(folder=folder, documented=documented(port, server)), encoding="utf-8")
        running = subprocess.Popen([str(program), "-p", str(folder), "-c", str(settings)], stderr=subprocess.DEVNULL)
        try:
            url = f"http://127.0.0.1:{port}"
            _wait_until_there(url)
            yield url
        finally:
            running.terminate()
            running.wait(15)


def _wait_until_there(url: str) -> None:
    deadline = time.monotonic() + 30
    while True:
        try:
            assert httpx.get(f"{url}/health/live").status_code == 200
            return
        except httpx.HTTPError:
            assert time.monotonic() < deadline, "the proxy did not start"
            time.sleep(0.05)


@pytest.fixture
def case(proxied: str) -> str:
    return str(httpx.post(f"{proxied}/api/v1/cases", json=humerus()).json()["id"])


def opened(url: str, stack: ExitStack, sent: bytes = b"") -> socket.socket:
    parts = urlsplit(url)
    made = stack.enter_context(socket.create_connection((parts.hostname, parts.port), timeout=10))
    made.sendall(sent)
    return made


def test_a_head_that_is_too_large_ends_at_the_proxy(proxied: str) -> None:
    answer = httpx.get(f"{proxied}/", headers={f"X-{number}": "x" * 15_000 for number in range(6)})
    assert (answer.status_code, answer.headers["server"].partition("/")[0]) == (400, "nginx")
    assert httpx.get(f"{proxied}/", headers={f"X-{number}": "x" * 15_000 for number in range(2)}).status_code == 200


def test_half_open_connections_stop_nobody_and_are_cut_off(proxied: str) -> None:
    with ExitStack() as stack:
        half = [opened(proxied, stack, b"GET / HTTP/1.1\r\nHost: x\r\nX-Slow: ") for _ in range(300)]
        assert httpx.get(f"{proxied}/").status_code == 200
        time.sleep(HEAD_S + 1)
        for one in half:
            said = one.recv(1000)
            assert said == b"" or b" 408 " in said


def test_one_client_has_so_many_connections(proxied: str, case: str) -> None:
    ask = f"GET /api/v1/cases/{case}/events HTTP/1.1\r\nHost: {urlsplit(proxied).netloc}\r\n\r\n".encode()
    with ExitStack() as stack:
        firsts = [opened(proxied, stack, ask).recv(12) for _ in range(EACH + 10)]
    assert firsts.count(b"HTTP/1.1 200") == EACH
    assert firsts.count(b"HTTP/1.1 503") == 10


def test_word_of_a_change_and_a_live_line_get_through(proxied: str, case: str) -> None:
    path = f"{proxied}/api/v1/cases/{case}"
    with httpx.stream("GET", f"{path}/events", timeout=5) as events:
        lines = events.iter_lines()
        assert json.loads(next(line for line in lines if line.startswith("data:"))[5:]) == {"version": 1}
        edit = {"edit": {"op": "set_note", "note": "through the proxy"}}
        written = httpx.post(f"{path}/edits", json=edit, headers={"If-Match": '"1"', "Origin": proxied})
        assert written.status_code == 200
        assert json.loads(next(line for line in lines if line.startswith("data:"))[5:]) == {"version": 2}
    with connect(f"{path.replace('http', 'ws', 1)}/live", origin=proxied) as line:  # type: ignore[arg-type]
        line.send(json.dumps({"edit": None, "version": 2, "seq": 7}))
        assert json.loads(line.recv(5))["seq"] == 7
