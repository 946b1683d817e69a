"""What kept parts of drawings and working ahead earn of a drag. Run: ``python -m tests.bench.bench_drag_parts``.

The drag is that of ``bench_drag``, cut into short blocks, each with a part on and then off or the other way round, in
one browser and one server, so that whatever else the machine does falls on both. Of each pair the difference of the
95th percentiles (off − on) of pointer move to redrawn page is taken. What earns less than 3 ms at the median is not
worth its code; the quartiles, and a 95 % interval of the median by order statistics, say whether that is more than
noise.
"""

import os
import random
import statistics
import subprocess
import sys
import tempfile
import time
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from math import comb

from playwright.sync_api import Page, sync_playwright

from tests.bench.bench_drag import PAUSE_MS, STAMP, STEP_MM, SWEEP
from tests.browser.sketching import Sketch
from tests.chromium import ARGS, chromium_path

PORT = 8992
PAIRS = int(os.environ.get("PAIRS", "30"))
WORTH_MS = 3.0
PARTS = ("kept", "ahead")


def serve(folder: str) -> None:
    """Fishplate with both parts, of which each line on standard input turns one off or on: ``kept off``."""
    from threading import Thread

    from app.cli import main
    from app.drawing.kept import Kept
    from app.drawing.svg import Written
    from app.web.routes.live import Page as LivePage

    kept, ahead = Kept.get, LivePage.work_ahead
    without = {"kept": lambda _self, _key, draw: Written(draw()), "ahead": lambda _self: None}

    def listen() -> None:
        for line in sys.stdin:
            part, to = line.split()
            if part == "kept":
                Kept.get = kept if to == "on" else without["kept"]  # type: ignore[method-assign]
            else:
                LivePage.work_ahead = ahead if to == "on" else without["ahead"]  # type: ignore[method-assign]

    Thread(target=listen, daemon=True).start()
    sys.argv = ["fishplate", "serve", "--port", str(PORT), "--data", folder]
    main()


@contextmanager
def serving(folder: str) -> Iterator[subprocess.Popen[str]]:
    """That server in a process of its own, once it answers."""
    words = [sys.executable, "-m", "tests.bench.bench_drag_parts", "serve", folder]
    process = subprocess.Popen(words, stdin=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True)
    try:
        deadline = time.perf_counter() + 30
        while time.perf_counter() < deadline:
            try:
                urllib.request.urlopen(f"http://127.0.0.1:{PORT}/").read()
                break
            except OSError:
                time.sleep(0.05)
        yield process
    finally:
        process.terminate()
        process.wait()


def block_p95_ms(page: Page, x: float, y: float, pauses: random.Random) -> float:
    """95th percentile of the ages of one sweep of moves, ms; a sweep is longer than what the server keeps of trials."""
    per_mm = Sketch(page).mm_in_px()
    page.mouse.move(x, y)
    page.wait_for_timeout(150)  # the way back to the beginning is no part of it
    page.evaluate("window.ages.length = 0")
    for n in range(1, SWEEP + 1):
        page.mouse.move(x + STEP_MM * per_mm * n, y)
        page.wait_for_timeout(pauses.uniform(*PAUSE_MS))
    page.wait_for_timeout(100)
    ages = sorted(float(age) for age in page.evaluate("window.ages"))
    return ages[int(len(ages) * 0.95)]


def differences_ms() -> dict[str, list[tuple[float, float]]]:
    """By part, pairs of p95 with the part on and off, ms."""
    found: dict[str, list[tuple[float, float]]] = {part: [] for part in PARTS}
    with tempfile.TemporaryDirectory() as folder, serving(folder) as server, sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=chromium_path(), args=ARGS)
        page = browser.new_page(base_url=f"http://127.0.0.1:{PORT}", viewport={"width": 1440, "height": 900})
        sketch = Sketch(page).open_sample("Fall from the net loft")
        page.evaluate(STAMP)
        x, y = sketch.middle(sketch.grip("move_fracture"))
        page.mouse.move(x, y)
        page.mouse.down()
        pauses = random.Random(0)
        block_p95_ms(page, x, y, pauses)  # warms up

        def turn(part: str, to: str) -> None:
            assert server.stdin is not None
            server.stdin.write(f"{part} {to}\n")
            server.stdin.flush()

        def block(part: str, to: str) -> float:
            turn(part, to)
            return block_p95_ms(page, x, y, pauses)

        for pair in range(PAIRS):
            for part in PARTS:
                order = ("on", "off") if pair % 2 else ("off", "on")
                p95 = {to: block(part, to) for to in order}
                turn(part, "on")
                found[part].append((p95["on"], p95["off"]))
        page.mouse.up()
        browser.close()
    return found


def interval(values: list[float]) -> tuple[float, float]:
    """The narrowest pair of order statistics that holds the median with at least 95 % (binomial; distribution-free)."""
    ranked, n = sorted(values), len(values)
    rank = 0
    while 1 - 2 * sum(comb(n, k) for k in range(rank + 1)) / 2**n >= 0.95:
        rank += 1
    rank = max(rank - 1, 0)
    return ranked[rank], ranked[n - 1 - rank]


if __name__ == "__main__":
    if sys.argv[1:2] == ["serve"]:
        serve(sys.argv[2])
        sys.exit()
    print(f"load before: {os.getloadavg()[0]:.1f} on {os.cpu_count()} processors")
    for part, pairs in differences_ms().items():
        earned = [off - on for on, off in pairs]
        low, high = interval(earned)
        quartiles = statistics.quantiles(earned, n=4)
        on, off = (statistics.median(pair[which] for pair in pairs) for which in (0, 1))
        print(
            f"{part:6} p95 on {on:.1f} ms, off {off:.1f} ms; earns {statistics.median(earned):+.1f} ms "
            f"(95 % {low:+.1f} to {high:+.1f}; quartiles {quartiles[0]:+.1f} to {quartiles[2]:+.1f}; "
            f"{len(earned)} pairs)"
        )
    print(f"load after: {os.getloadavg()[0]:.1f}; worth its code from {WORTH_MS:.0f} ms")
