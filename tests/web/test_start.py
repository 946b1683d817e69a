"""What a start loads: the first page waits for all of it."""

import json
import os
import subprocess
import sys
from pathlib import Path

from app.environment import ROOT

UNNEEDED = {"numpy", "typst", "alembic", "app.compare", "app.exchange", "app.sheet", "app.mechanics.solve"}
UNNEEDED |= {"app.figures", "app.web.panels.contents", "sqlalchemy.dialects.postgresql"}
START = """
import sys
from pathlib import Path
from app.web import Settings, create_app
create_app(Settings(data_dir=Path(sys.argv[1])))
print(*sys.modules)
"""
WAIT = """
import sys, threading
from app.web.http.warm_up import warm_up
with warm_up(wait_s=60):
    pass
with warm_up(wait_s=0):
    for thread in threading.enumerate():
        thread is threading.main_thread() or thread.join()
print(*sys.modules)
"""
ASSESS = """
import gc, os, sys
from app.cli import main
threads = lambda: len(os.listdir("/proc/self/task"))
before, status = threads(), main(["assess", sys.argv[1]])
print(status, threads() - before, *sys.modules, file=sys.stderr)
"""
COMMAND_UNNEEDED = {
    "app.drawing",
    "app.suggest",
    "app.web",
    "fastapi",
    "jinja2",
    "sqlalchemy",
    "svgwrite",
}
END = """
import atexit, gc
from app.cli import main
atexit.register(lambda: print(gc.get_freeze_count() > 10_000))  # called last, since it is registered first
print(main(["assess", "missing.json"]))
"""
GARBAGE = """
import gc, os, sys
from app.cli import main
from app.web.factory import create
os.environ["FISHPLATE_DATA"] = sys.argv[1]
gc.disable()
create()
print(gc.isenabled(), gc.get_freeze_count() > 50_000, main(["assess", "missing.json"]), gc.isenabled())
"""


def printed_by(code: str, *arguments: str) -> list[str]:
    words = [sys.executable, "-W", "error", "-c", code, *arguments]
    return subprocess.run(words, capture_output=True, text=True, timeout=50, check=True).stdout.split()


def test_the_first_page_waits_for_nothing_that_it_does_without(tmp_path: Path) -> None:
    loaded = set(printed_by(START, str(tmp_path)))
    assert {"svgwrite", "sqlalchemy"} <= loaded
    assert not UNNEEDED & loaded


def test_the_solver_and_the_panels_are_there_soon_after() -> None:
    assert {"numpy", "app.mechanics.solve", "app.web.panels.contents"} <= set(printed_by(WAIT))


def test_a_command_loads_only_what_it_uses_and_starts_no_threads() -> None:
    sample = min((ROOT / "sample_cases").glob("*.json"))
    words = [sys.executable, "-W", "error", "-c", ASSESS, str(sample)]
    plain = {name: value for name, value in os.environ.items() if not name.endswith("_NUM_THREADS")}
    run = subprocess.run(words, capture_output=True, text=True, timeout=50, check=True, env=plain)
    status, threads, *loaded = run.stderr.split()
    assert json.loads(run.stdout)["format"] == "fishplate-assessment/2"
    assert (status, threads) == ("0", "0")
    assert {"numpy", "app.mechanics.solve"} <= set(loaded)  # with its BLAS, which starts a thread for every core
    assert not COMMAND_UNNEEDED & set(loaded)


def test_what_a_command_loaded_is_not_looked_through_at_its_end() -> None:
    assert printed_by(END) == ["2", "True"]


def test_garbage_is_collected_again_once_the_server_is_up_or_a_command_is_done(tmp_path: Path) -> None:
    assert printed_by(GARBAGE, str(tmp_path)) == ["True", "True", "2", "True"]
