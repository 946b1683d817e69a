"""From pointer move to redrawn page, in real Chromium. Run: ``python -m tests.bench.bench_drag``.

A fracture is dragged for some seconds, a millimetre or so with every move. Each move is stamped with the time at which
the browser got it. A redraw shows a position of the fracture; its age is that of the newest move to this position, at
the end of the frame that paints it (what the compositor does after that, a page can't see). Aim: 33 ms at the 95th
percentile. The time from starting the program to the first page is measured too; aim: one second.
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
from pathlib import Path

from playwright.sync_api import sync_playwright

from tests.browser.sketching import Sketch
from tests.chromium import ARGS, chromium_path

MOVES = 240
PORT = 8991
COMPILED = str(Path(tempfile.gettempdir()) / "fishplate-bench-compiled")

STEP_MM = 0.94  # a move in the drawing's measure: so that drawings of any size are asked for alike
PAUSE_MS = (4, 20)  # irregular: a hand is not in step with the screen
SWEEP = 80  # moves one way, then back to where it began: longer than what the server keeps of trials

STAMP = """() => {
  const board = document.getElementById("board");
  const line = board.querySelector("#line-0");
  const [from, low, high] = ["value", "min", "max"].map((name) => Number(line.dataset[name]));
  const mmInPx = document.getElementById("sketch").getScreenCTM().a;
  const moved = new Map();
  let start = null;
  window.ages = [];
  board.addEventListener("pointerdown", (event) => { start = event.clientX; }, true);
  for (const kind of ["pointerrawupdate", "pointermove"]) board.addEventListener(kind, (event) => {
    if (start === null) return;
    const wanted = Math.round(from + (event.clientX - start) / mmInPx);
    const last = moved.get(wanted);
    // A move held back until the frame is the same move, heard of twice.
    const same = last && last.x === event.clientX && event.timeStamp - last.at < 500;
    if (!same) moved.set(wanted, {x: event.clientX, at: event.timeStamp});
  }, true);
  let shown = line.getAttribute("aria-valuenow");
  new MutationObserver(() => {
    const now = board.querySelector("#line-0").getAttribute("aria-valuenow");
    if (now === shown) return;
    shown = now;
    const move = moved.get(Number(now));
    if (!move) throw new Error(`nobody asked for ${now} between ${low} and ${high}`);
    requestAnimationFrame(() => {
      const after = new MessageChannel();
      after.port1.onmessage = () => window.ages.push(performance.now() - move.at);
      after.port2.postMessage(null);
    });
  }).observe(board, {subtree: true, attributes: true, attributeFilter: ["aria-valuenow"]});
}"""


@contextmanager
def serving(folder: str) -> Iterator[str]:
    """Fishplate as people start it, in a process of its own; gives its address once it answers."""
    words = [sys.executable, "-m", "app.cli", "serve", "--port", str(PORT), "--data", folder]
    environment = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
    process = subprocess.Popen(words, stderr=subprocess.DEVNULL, env=environment | {"PYTHONPYCACHEPREFIX": COMPILED})
    base = f"http://127.0.0.1:{PORT}"
    try:
        deadline = time.perf_counter() + 20
        while time.perf_counter() < deadline:
            try:
                urllib.request.urlopen(f"{base}/").read()
                break
            except OSError:
                time.sleep(0.01)
        yield base
    finally:
        process.terminate()
        process.wait()


def first_page_s() -> float:
    """Seconds from starting the program to its first whole page, with a new data folder.

    Python keeps what it has compiled, as it does for everybody, though not in the project's folders.
    """
    with tempfile.TemporaryDirectory() as folder:
        begin = time.perf_counter()
        with serving(folder):
            return time.perf_counter() - begin


def drag_ages_ms() -> list[float]:
    """Age of the newest pointer move at each redraw, ms."""
    with tempfile.TemporaryDirectory() as folder, serving(folder) as base, sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=chromium_path(), args=ARGS)
        page = browser.new_page(base_url=base, viewport={"width": 1440, "height": 900})
        sketch = Sketch(page).open_sample("Fall from the net loft")
        page.evaluate(STAMP)
        x, y = sketch.middle(sketch.grip("move_fracture"))
        per_mm = sketch.mm_in_px()
        page.mouse.move(x, y)
        page.mouse.down()
        pauses = random.Random(0)
        for n in range(MOVES):
            page.mouse.move(x + STEP_MM * per_mm * (n % SWEEP), y)
            page.wait_for_timeout(pauses.uniform(*PAUSE_MS))
        ages = [float(age) for age in page.evaluate("window.ages")]
        page.mouse.up()
        browser.close()
    return ages


if __name__ == "__main__":
    first_page_s()  # the first start after an installation compiles
    print(f"first page after start  {statistics.median(first_page_s() for _ in range(3)):.2f} s")
    ages = sorted(drag_ages_ms())
    print(f"redraws                 {len(ages)} for {MOVES} moves")
    print(f"pointer move to redraw  {statistics.median(ages):.1f} ms median, {ages[int(len(ages) * 0.95)]:.1f} ms p95")
