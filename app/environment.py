"""Setting up from a fresh clone: a virtual environment with what Fishplate needs. Standard library only."""

import os
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
FOLDER = ROOT / ".venv"
CONSTRAINTS = ROOT / ".constraints.txt"
STAMP = FOLDER / "fishplate-installed"


def python() -> Path:
    """The environment's interpreter."""
    return FOLDER / ("Scripts/python.exe" if os.name == "nt" else "bin/python")


def run(*words: str | Path, check: bool = True) -> int:
    """Run a command and show it; stops the program with its exit status if it fails and ``check`` is set."""
    print("+", *words, file=sys.stderr, flush=True)  # noqa: T201 - the user should see what is being installed
    status = subprocess.run([str(word) for word in words], cwd=ROOT, check=False).returncode
    if check and status:
        sys.exit(status)
    return status


def as_root(*words: str) -> tuple[str, ...]:
    """The command with ``sudo`` before it where it is needed."""
    return words if getattr(os, "geteuid", lambda: 0)() == 0 else ("sudo", *words)


def _make_folder() -> None:
    if python().exists():
        return
    if run(sys.executable, "-m", "venv", FOLDER, check=False):
        # Debian's python3 comes without venv; virtualenv brings its own pip.
        run(sys.executable, "-m", "pip", "install", "--quiet", "--user", "--break-system-packages", "virtualenv")
        run(sys.executable, "-m", "virtualenv", "--clear", FOLDER)


def _wanted(extra: str) -> str:
    parts = [path.read_text(encoding="utf-8") for path in (ROOT / "pyproject.toml", CONSTRAINTS)]
    return "\n".join([extra, *parts])


def install(extra: str = "") -> Path:
    """Make the environment and install Fishplate in it (``extra``: ``dev`` or nothing); quick when nothing changed.

    Returns:
        The environment's interpreter.
    """
    _make_folder()
    wanted = _wanted(extra)
    if STAMP.exists() and STAMP.read_text(encoding="utf-8") in (wanted, _wanted("dev")):
        return python()
    what = f"{ROOT}[{extra}]" if extra else str(ROOT)
    run(python(), "-m", "pip", "install", "--quiet", "-c", CONSTRAINTS, "-e", what)
    STAMP.write_text(wanted, encoding="utf-8")
    return python()
