"""``python3 -m tests`` from a fresh clone: set up everything, then lint, types and all tests.

Further words go to pytest. Chromium and PostgreSQL are installed where they are missing; with ``CI`` set, a test that
is skipped for want of either fails the run.
"""

import os
import shutil
import sys
from pathlib import Path

from app.environment import as_root, install, run

TYPESCRIPT = "typescript@5.9.3"
TSC = "--noEmit --allowJs --checkJs --strict --target es2022 --module esnext --moduleResolution bundler"
CHROMIUM = ("chromium", "chromium-browser", "google-chrome")


def have_chromium() -> bool:
    return bool(os.environ.get("FISHPLATE_CHROMIUM")) or any(shutil.which(name) for name in CHROMIUM)


def have_postgres() -> bool:
    return bool(shutil.which("initdb")) or any(Path("/usr/lib/postgresql").glob("*/bin/initdb"))


def fetch_programs(python: Path) -> None:
    """Chromium and PostgreSQL: Debian's packages first, since Playwright's own download needs an open network."""
    wanted = [name for name, have in (("chromium", have_chromium()), ("postgresql", have_postgres())) if not have]
    if wanted and shutil.which("apt-get"):
        run(*as_root("apt-get", "update", "-qq"), check=False)
        run(*as_root("apt-get", "install", "-y", "-qq", "--no-install-recommends", *wanted), check=False)
    if not have_chromium():
        run(python, "-m", "playwright", "install", "--with-deps", "chromium", check=False)


def check_scripts() -> int:
    """The browser's modules are typed in JSDoc; they are checked where Node.js is there."""
    if not shutil.which("npx"):
        print("no Node.js here: the types of static/js are not checked", file=sys.stderr)
        return 0
    scripts = sorted(str(path) for path in Path("static/js").glob("*.js"))
    return run(
        "npx", "--yes", "-p", TYPESCRIPT, "tsc", *TSC.split(), "--lib", "es2022,dom,dom.iterable", *scripts, check=False
    )


def main() -> int:
    python = install("dev")
    fetch_programs(python)
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
    return worst


if __name__ == "__main__":
    sys.exit(main())
