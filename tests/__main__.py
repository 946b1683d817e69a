"""``python3 -m tests`` from a fresh clone: set up everything, then lint, types and all tests.

Further words go to pytest. Chromium and PostgreSQL are installed where they are missing and that may be done; where
not, the tests that need them are left out and said to be, and with ``CI`` set the run fails at once.
"""

import os
import shutil
import sys
from collections.abc import Mapping
from pathlib import Path

from app.environment import install, quietly, run, tell

TYPESCRIPT = "typescript@5.9.3"
TSC = "--noEmit --allowJs --checkJs --strict --target es2022 --module esnext --moduleResolution bundler"
CHROMIUM = ("chromium", "chromium-browser", "google-chrome")
KINDS = {"chromium": "the tests that drive a browser", "postgresql": "the tests against a PostgreSQL server"}


def have_chromium() -> bool:
    return bool(os.environ.get("FISHPLATE_CHROMIUM")) or any(shutil.which(name) for name in CHROMIUM)


def have_postgres() -> bool:
    return bool(shutil.which("initdb")) or any(Path("/usr/lib/postgresql").glob("*/bin/initdb"))


def missing() -> list[str]:
    """Which of Debian's packages are wanted yet."""
    return [name for name, have in (("chromium", have_chromium()), ("postgresql", have_postgres())) if not have]


def rights() -> tuple[str, ...] | None:
    """What to put before a command that needs the machine's administrator; None without the right to be that.

    Nobody is asked for a password: that a test run wants one would surprise.
    """
    if os.geteuid() == 0:
        return ()
    able = shutil.which("sudo") is not None and quietly("sudo", "-n", "true")[0] == 0
    return ("sudo", "-n") if able else None


def fetch_programs(python: Path) -> list[str]:
    """Install Chromium and PostgreSQL; what could not be.

    Debian's packages come first, since Playwright's own download needs an open network.
    """
    before = rights()
    if missing() and before is not None and shutil.which("apt-get"):
        tell(f"installing {' and '.join(missing())} on this machine with apt-get (one to three minutes)")
        run(*before, "apt-get", "update", "-qq", check=False)
        run(*before, "apt-get", "install", "-y", "-qq", "--no-install-recommends", *missing(), check=False)
    wanted = missing()
    if "chromium" in wanted and _fetch_playwrights_own(python, with_libraries=before == ()):
        wanted.remove("chromium")
    return wanted


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


def check_scripts() -> int:
    """The browser's modules are typed in JSDoc; they are checked where Node.js is there."""
    if not shutil.which("npx"):
        tell("no Node.js here: the types of static/js are not checked")
        return 0
    scripts = sorted(str(path) for path in Path("static/js").rglob("*.js"))
    return run(
        "npx", "--yes", "-p", TYPESCRIPT, "tsc", *TSC.split(), "--lib", "es2022,dom,dom.iterable", *scripts, check=False
    )


def main() -> int:
    python = install("dev")
    wanted = fetch_programs(python)
    if (last_word := left_out(wanted, os.environ)) is not None:
        sys.exit(last_word)
    if not wanted:
        os.environ.setdefault("FISHPLATE_REQUIRE_ALL", "1")
    checks = [
        ("ruff", "check", "app", "tests"),
        ("ruff", "format", "--check", "app", "tests"),
        ("mypy",),
        ("pytest", *sys.argv[1:]),
    ]
    worst = check_scripts()
    for check in checks:
        worst = run(python, "-m", *check, check=False) or worst
    left_out(wanted, {})
    return worst


if __name__ == "__main__":
    try:
        sys.exit(main())
    except KeyboardInterrupt:
        sys.exit("\nStopped.")
