"""Fifty who follow one sketch and twenty who edit cases of their own, on this machine.

Run: ``python -m tests.bench.bench_load [--seconds 60] [--workers 1] [--viewers 50] [--sketchers 20]``. The server runs
in a process of its own; with FISHPLATE_DATABASE_URL set it keeps its cases there. One more sketcher drags the case that
is followed: five previews a second, and an edit every four seconds. Each of the others edits every two seconds, fast
for a hand. Counted: answers that are no success, and revisions acknowledged but not kept. Aim: none of either, and
edits answered within 100 ms at the 95th percentile.
"""

import argparse
import asyncio
import json
import multiprocessing
import os
import random
import statistics
import tempfile
import time
from dataclasses import dataclass, field
from pathlib import Path
from urllib.parse import urlencode, urlsplit

import httpx

from tests.cases import humerus
from tests.serving import served

EDIT_EVERY_S, PREVIEW_EVERY_S, KEEP_EVERY = 2.0, 0.2, 20
LIMITS = httpx.Limits(max_connections=None, max_keepalive_connections=None)


@dataclass
class Counts:
    """What one side saw."""

    edits_s: list[float] = field(default_factory=list)
    previews_s: list[float] = field(default_factory=list)
    pictures_s: list[float] = field(default_factory=list)
    events: int = 0
    errors: list[str] = field(default_factory=list)
    kept: dict[str, int] = field(default_factory=dict)
    seen: list[int] = field(default_factory=list)


def note(text: str) -> dict[str, str]:
    return {"op": "set_note", "note": text}


def moved(number: int) -> dict[str, object]:
    return {"op": "move_fracture", "target": 0, "line": 0, "position_mm": 150.0 + number % 40 / 2}


async def new_case(client: httpx.AsyncClient, title: str) -> str:
    return str((await client.post("/api/v1/cases", json=humerus(title=title))).json()["id"])


async def edit(client: httpx.AsyncClient, counts: Counts, case: str, change: dict[str, object]) -> None:
    version = counts.kept.setdefault(case, 1)
    begun = time.perf_counter()
    headers = {"If-Match": f'"{version}"'}
    answer = await client.post(f"/api/v1/cases/{case}/edits", json={"edit": change}, headers=headers)
    counts.edits_s.append(time.perf_counter() - begun)
    if answer.status_code == 200:
        counts.kept[case] = answer.json()["version"]
    else:
        counts.errors.append(f"edit: {answer.status_code} {answer.text[:100]}")


async def sketch(client: httpx.AsyncClient, counts: Counts, number: int, until: float) -> None:
    case = await new_case(client, f"Own case {number}")
    await asyncio.sleep(random.random() * EDIT_EVERY_S)  # people don't move in step
    count = 0
    while time.perf_counter() < until:
        begun = time.perf_counter()
        await edit(client, counts, case, moved(count) if count % 3 else {"op": "set_role", "target": 0, "hole": 0,
                   "role": "empty" if count % 2 else "neutral"})  # fmt: skip
        count += 1
        await asyncio.sleep(max(0.0, EDIT_EVERY_S - (time.perf_counter() - begun)))


async def drag(client: httpx.AsyncClient, counts: Counts, case: str, until: float) -> None:
    count = 0
    while time.perf_counter() < until:
        begun = time.perf_counter()
        count += 1
        if count % KEEP_EVERY == 0:
            await edit(client, counts, case, moved(count))
        else:
            answer = await client.post(f"/api/v1/cases/{case}/preview", json={"edit": moved(count), "seq": count})
            counts.previews_s.append(time.perf_counter() - begun)
            if answer.status_code != 200:
                counts.errors.append(f"preview: {answer.status_code}")
        await asyncio.sleep(max(0.0, PREVIEW_EVERY_S - (time.perf_counter() - begun)))


async def sketching(url: str, case: str, sketchers: int, seconds: float) -> Counts:
    counts = Counts()
    until = time.perf_counter() + seconds
    async with httpx.AsyncClient(base_url=url, timeout=20, limits=LIMITS) as client:
        await asyncio.gather(
            drag(client, counts, case, until), *(sketch(client, counts, number, until) for number in range(sketchers))
        )
    return counts


class Line:
    """A connection that asks by plain HTTP/1.1; a client library needs more of the machine than the server."""

    def __init__(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter, host: str) -> None:
        self._reader, self._writer, self._host = reader, writer, host

    @classmethod
    async def open(cls, url: str) -> "Line":
        parts = urlsplit(url)
        reader, writer = await asyncio.open_connection(parts.hostname, parts.port, limit=2**20)
        return cls(reader, writer, parts.netloc)

    async def ask(self, path: str) -> tuple[int, int]:
        """Status, and length of the body still to be read (0: unknown)."""
        self._writer.write(f"GET {path} HTTP/1.1\r\nHost: {self._host}\r\n\r\n".encode())
        head = (await self._reader.readuntil(b"\r\n\r\n")).decode().lower().split("\r\n")
        length = next((int(line[15:]) for line in head if line.startswith("content-length:")), 0)
        return int(head[0].split()[1]), length

    async def get(self, path: str) -> int:
        status, length = await self.ask(path)
        await self._reader.readexactly(length)
        return status

    async def line(self) -> str:
        return (await self._reader.readline()).decode().rstrip("\r\n")

    def close(self) -> None:
        self._writer.close()


async def view(url: str, counts: Counts, case: str, until: float) -> int:
    """As the conference view does it: one picture at a time, of the newest word."""
    path = f"/api/v1/cases/{case}"
    wanted: dict[str, str] = {}
    news = asyncio.Event()
    events, pictures = await Line.open(url), await Line.open(url)

    async def fetch() -> None:
        while True:
            await news.wait()
            news.clear()
            begun = time.perf_counter()
            status = await pictures.get(f"{path}/picture?{urlencode(wanted)}")
            counts.pictures_s.append(time.perf_counter() - begun)
            if status != 200:
                counts.errors.append(f"picture: {status}")

    fetching = asyncio.create_task(fetch())
    version = 0
    await events.ask(f"{path}/events")
    while time.perf_counter() < until:
        try:
            line = await asyncio.wait_for(events.line(), until - time.perf_counter())
        except TimeoutError:
            break
        if line.startswith("data: "):
            told = json.loads(line[6:])
            counts.events += 1
            version = max(version, told.get("version", 0))
            tried = told.get("edit")
            wanted = {"version": str(version), **({"edit": json.dumps(tried)} if tried else {})}
            news.set()
    fetching.cancel()
    events.close()
    pictures.close()
    return version


async def viewing(url: str, case: str, viewers: int, seconds: float) -> Counts:
    counts = Counts()
    until = time.perf_counter() + seconds
    counts.seen = list(await asyncio.gather(*(view(url, counts, case, until) for _ in range(viewers))))
    return counts


def view_in_process(url: str, case: str, viewers: int, seconds: float, found: "multiprocessing.Queue[Counts]") -> None:
    found.put(asyncio.run(viewing(url, case, viewers, seconds)))


def told(name: str, seconds: list[float]) -> str:
    if not seconds:
        return f"{name}: none"
    found = sorted(1000 * one for one in seconds)
    p95 = found[int(0.95 * len(found))]
    return (
        f"{name}: {len(found)}, median {statistics.median(found):.0f} ms, p95 {p95:.0f} ms, longest {found[-1]:.0f} ms"
    )


def lost(url: str, kept: dict[str, int]) -> int:
    """Revisions acknowledged and not there."""
    missing = 0
    for case, version in kept.items():
        there = len(httpx.get(f"{url}/api/v1/cases/{case}/revisions").json())
        missing += version - there
    return missing


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seconds", type=float, default=60)
    parser.add_argument("--workers", type=int, default=1)
    parser.add_argument("--viewers", type=int, default=50)
    parser.add_argument("--sketchers", type=int, default=20)
    options = parser.parse_args()
    database = os.environ.get("FISHPLATE_DATABASE_URL")
    with tempfile.TemporaryDirectory() as folder, served(Path(folder) / "data", database, options.workers) as url:
        case = httpx.post(f"{url}/api/v1/cases", json=humerus()).json()["id"]
        found: multiprocessing.Queue[Counts] = multiprocessing.get_context("spawn").Queue()
        viewers = multiprocessing.get_context("spawn").Process(
            target=view_in_process, args=(url, case, options.viewers, options.seconds + 2, found)
        )
        viewers.start()
        time.sleep(2)  # so that all of them follow before the first edit
        drawn = asyncio.run(sketching(url, case, options.sketchers, options.seconds))
        seen = found.get(timeout=60)
        viewers.join()
        print(f"{options.viewers} viewers, {options.sketchers} sketchers, workers: {options.workers}")
        print(told("edits", drawn.edits_s))
        print(told("previews", drawn.previews_s))
        print(told(f"pictures ({seen.events} events)", seen.pictures_s))
        behind = sum(version < drawn.kept[case] for version in seen.seen)
        print(f"errors: {len(drawn.errors) + len(seen.errors)} {(drawn.errors + seen.errors)[:3]}")
        print(f"lost revisions: {lost(url, drawn.kept)}; viewers behind at the end: {behind}")


if __name__ == "__main__":
    main()
