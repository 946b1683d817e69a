"""``python3 -m tests`` from a fresh clone: set up everything, then lint, types and all tests.

Further words go to pytest. Chromium, PostgreSQL and nginx are installed where they are missing and that may be done;
where not, the tests that need them are left out and said to be, and with ``CI`` set the run fails at once.
"""

import os
import shutil
import sys
from collections.abc import Mapping
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

from app.environment import FOLDER, ROOT, install, quietly, run, tell
from tests.chromium import WINDOWLESS, chromium_path

TYPESCRIPT = "typescript@5.9.3"
JSDOM = "jsdom@26.1.0"  # the document in which tests/js runs the browser's modules
TSC = "--noEmit --allowJs --checkJs --strict --target es2022 --module esnext --moduleResolution bundler"
NOTHING_COLLECTED = 5  # pytest's own exit status
# Debian's packages. The first of Chromium is the one without a window: the same pages take two thirds of the time.
PACKAGES = {"chromium": (WINDOWLESS, "chromium"), "postgresql": ("postgresql",), "nginx": ("nginx-light", "nginx")}
PATIENCE = ("-o", "Acquire::Retries=0", "-o", "Acquire::http::Timeout=20")  # where there is no way out, none comes up
KINDS = {
    "chromium": "the tests that drive a browser",
    "postgresql": "the tests against a PostgreSQL server",
    "nginx": "the tests behind a proxy",
}


def have_chromium() -> bool:
    return chromium_path() is not None


def have_postgres() -> bool:
    return bool(shutil.which("initdb")) or any(Path("/usr/lib/postgresql").glob("*/bin/initdb"))


def have_nginx() -> bool:
    return bool(shutil.which("nginx") or shutil.which("nginx", path="/usr/sbin"))


def missing() -> list[str]:
    """Which of Debian's packages are wanted yet."""
    there = {"chromium": have_chromium(), "postgresql": have_postgres(), "nginx": have_nginx()}
    return [name for name, have in there.items() if not have]


def rights() -> tuple[str, ...] | None:
    """What to put before a command that needs the machine's administrator; None without the right to be that.

    Nobody is asked for a password: that a test run wants one would surprise.
    """
    if os.geteuid() == 0:
        return ()
    able = shutil.which("sudo") is not None and quietly("sudo", "-n", "true")[0] == 0
    return ("sudo", "-n") if able else None


def fetch_programs(python: Path) -> list[str]:
    """Install Chromium, PostgreSQL and nginx; what could not be.

    Debian's packages come first, since Playwright's own download needs an open network.
    """
    before, lacking = rights(), missing()
    if os.environ.get("CI") and not (os.environ.get("FISHPLATE_CHROMIUM") or shutil.which(WINDOWLESS)):
        # any Chromium will do, but that one is quicker
        lacking = ["chromium", *(name for name in lacking if name != "chromium")]
    if lacking and before is not None and shutil.which("apt-get"):
        tell(f"installing {' and '.join(lacking)} on this machine with apt-get (one to three minutes)")
        run(*before, "apt-get", *PATIENCE, "update", "-qq", check=False)
        for name in lacking:
            _fetch_packages(before, name)
    wanted = missing()
    if "chromium" in wanted and _fetch_playwrights_own(python, with_libraries=before == ()):
        wanted.remove("chromium")
    return wanted


def _fetch_packages(before: tuple[str, ...], name: str) -> None:
    """Install the first package that this system has of those that will do; an older Debian lacks some."""
    for package in PACKAGES[name]:
        words = ["install", "-y", "-qq", "--no-install-recommends", package]
        if run(*before, "apt-get", *PATIENCE, *words, check=False) == 0 or name not in missing():
            return


def _fetch_playwrights_own(python: Path, *, with_libraries: bool) -> bool:
    tell("fetching a Chromium for the tests, into your own cache folder (about 200 MB)")
    words = ["-m", "playwright", "install", *(["--with-deps"] if with_libraries else []), "chromium"]
    return quietly(python, *words)[0] == 0


def left_out(wanted: list[str], environment: Mapping[str, str]) -> str | None:
    """Tell what is missing and what that means; the last word of a run that may not leave anything out, else None."""
    for name in wanted:
        tell(f"{name} is missing and can't be installed by you, so {KINDS[name]} are left out.")
    if not wanted:
        return None
    how = f"Have it installed (Debian, Ubuntu: apt-get install {' '.join(wanted)}), and start again."
    if environment.get("CI") or environment.get("FISHPLATE_REQUIRE_ALL"):
        return f"fishplate: nothing may be left out here, since CI or FISHPLATE_REQUIRE_ALL is set. {how}"
    tell(how)
    return None


def script_checks() -> list[list[str]]:
    """The browser's modules, where Node.js is there: their types, written in JSDoc, and their own tests.

    Node.js 20.19 is the oldest that takes a file for a module by what stands in it.
    """
    if not shutil.which("npx") or not shutil.which("node"):
        tell("no Node.js here: the types of static/js are not checked, and tests/js not run")
        return []
    types = ["npx", "--yes", "-p", TYPESCRIPT, "tsc", *TSC.split(), "--lib", "es2022,dom,dom.iterable"]
    types += sorted(path.as_posix() for path in (ROOT / "static/js").rglob("*.js"))
    tests = sorted(path.as_posix() for path in (ROOT / "tests/js").glob("*.test.js"))
    page = ["npm", "install", "--prefix", str(FOLDER / "js"), "--no-audit", "--no-fund", "--silent", JSDOM]
    return [types, page, ["node", "--no-warnings", "--test", *tests]]


def whole(command: list[str]) -> tuple[list[str], int, str]:
    """Run a command to its end without a word; the command, its exit status and all that it said."""
    try:
        return command, *quietly(*command)
    except OSError as error:
        return command, 127, f"{command[0]} can't be started: {error.strerror}"


def cores() -> int:
    """How many this process may use; pytest-xdist's own ``auto`` counts two threads of a core as one."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def run_tests(python: Path, words: list[str]) -> int:
    """The tests that may run beside each other, on all cores; then those with tight clocks, one by one.

    Either run may find nothing to do where the words choose only some tests, but not both.
    """
    available = cores()  # half as many more: a test that waits for a server or a browser leaves its core to another
    beside = ["-n", str(available + available // 2), "--dist", "loadfile", "--no-loadscope-reorder"]
    parts = [["-m", "not serial", *beside, *words], ["-m", "serial", *words]]
    statuses = [run(python, "-m", "pytest", *part, check=False) for part in parts]
    done = [status for status in statuses if status != NOTHING_COLLECTED]
    return max(done, default=NOTHING_COLLECTED)


def worst_of(commands: list[list[str]], python: Path, words: list[str]) -> int:
    """Lint and types beside the tests; what each said is shown whole, when the tests have ended."""
    with ThreadPoolExecutor(1) as pool:  # one after another: the tests have most of the cores
        waiting = [pool.submit(whole, command) for command in commands]
        worst = run_tests(python, words)
        for one in waiting:
            command, status, said = one.result()
            print("+", *command[:8], *(["…"] if len(command) > 8 else []), file=sys.stderr)
            print(said.rstrip(), flush=True)
            worst = max(worst, abs(status))
    return worst


def main() -> int:
    python = install("dev")
    wanted = fetch_programs(python)
    if (last_word := left_out(wanted, os.environ)) is not None:
        sys.exit(last_word)
    if not wanted:
        os.environ.setdefault("FISHPLATE_REQUIRE_ALL", "1")
    checks = [["ruff", "check", "app", "tests"], ["ruff", "format", "--check", "app", "tests"], ["mypy"]]
    commands = [[str(python), "-m", *check] for check in checks] + script_checks()
    worst = worst_of(commands, python, sys.argv[1:])
    left_out(wanted, {})
    return worst


if __name__ == "__main__":
    try:
        sys.exit(main())
    except KeyboardInterrupt:
        sys.exit("\nStopped.")
