"""What followers cost who see nothing happen: ``python -m tests.bench.bench_idle``.

500 event streams of one case, five seconds, nothing written; the server's own processor time, as the system counts it.
Aim: under 3 %.
"""

import os
import socket
import tempfile
import time
from contextlib import ExitStack
from pathlib import Path

import httpx

from tests.cases import humerus
from tests.entrance import PHRASE
from tests.web.test_connections import process

FOLLOWERS, SECONDS = 500, 5.0


def used_s(pid: int) -> float:
    """Processor time of a process so far: proc(5), fields 14 and 15 of stat."""
    fields = Path(f"/proc/{pid}/stat").read_text(encoding="ascii").rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def main() -> None:
    room = {"FISHPLATE_CONNECTIONS": "2000", "FISHPLATE_CONNECTIONS_EACH": "2000"}
    with tempfile.TemporaryDirectory() as folder, process(Path(folder), **room) as (url, pid), ExitStack() as held:
        client = held.enter_context(httpx.Client(base_url=url))
        client.post("/signin", data={"phrase": PHRASE})
        case = client.post("/api/v1/cases", json=humerus()).json()["id"]
        head = f"GET /api/v1/cases/{case}/events HTTP/1.1\r\nHost: 127.0.0.1\r\nCookie: fishplate="
        for _ in range(FOLLOWERS):
            one = held.enter_context(socket.create_connection(("127.0.0.1", int(url.rpartition(":")[2]))))
            one.sendall(f"{head}{client.cookies['fishplate']}\r\n\r\n".encode())
            assert one.recv(100).startswith(b"HTTP/1.1 200"), "a follower was refused"
        time.sleep(2)
        before, begun = used_s(pid), time.monotonic()
        time.sleep(SECONDS)
        share = (used_s(pid) - before) / (time.monotonic() - begun)
        print(f"{FOLLOWERS} idle followers: {share:.1%} of a processor (aim: under 3 %)")


if __name__ == "__main__":
    main()
