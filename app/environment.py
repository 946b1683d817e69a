"""Setting up from a fresh clone: a virtual environment with what Fishplate needs. Standard library only.

Everything goes into ``.venv`` beside the code; the Python that it was started with is left as it is.
"""

import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Mapping
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
FOLDER = ROOT / ".venv"
CONSTRAINTS = ROOT / ".constraints.txt"
STAMP = FOLDER / "fishplate-installed"
LOG = FOLDER / "install.log"

OLDEST_PYTHON = (3, 11)
OLDEST_PIP = (21, 3)  # the first that installs a folder without setup.py so that it can be edited (PEP 660)
PROBE = "import sys, pip; print(*sys.version_info[:2], *pip.__version__.split('.')[:2])"

# The user's own settings that would send an installation elsewhere, or have it find what the environment lacks.
ELSEWHERE = ("PIP_TARGET", "PIP_PREFIX", "PIP_ROOT", "PYTHONPATH", "PYTHONHOME", "__PYVENV_LAUNCHER__")

# Words in what an installer says, and what to do about it; the first that fits counts, so causes before consequences.
CAUSES = (
    (
        ("No space left on device", "Disk quota exceeded"),
        "The disk is full: {folder} needs about 250 MB (1.2 GB with the tests). Make room, and start again.",
    ),
    (
        ("CERTIFICATE_VERIFY_FAILED", "SSLError"),
        "The package index shows a certificate that this machine doesn't trust. Name your network's own "
        "certificates with PIP_CERT=FILE, and start again.",
    ),
    (
        ("NewConnectionError", "NameResolutionError", "ConnectTimeout", "ReadTimeout", "ProxyError", "onnection broken",
         "Temporary failure in name resolution", "Network is unreachable"),
        "The package index can't be reached. Connect this machine to the internet, or name a proxy with HTTPS_PROXY "
        "or a nearer index with PIP_INDEX_URL, and start again.",
    ),
    (
        ("Permission denied", "Read-only file system"),
        "You may not read or write all that is needed ({last}). Give yourself the right to, or make the clone anew in "
        "a folder of your own, and start again.",
    ),
    (
        ("requires a different Python", "Requires-Python", "No matching distribution", "Failed building wheel",
         "Failed to build", "metadata-generation-failed"),
        "A package isn't made for this Python ({version}) and machine. Start with Python 3.11, 3.12 or 3.13, for "
        "example: python3.13 -m app",
    ),
)  # fmt: skip
NO_VENV = (
    "This Python can't make virtual environments. On Debian or Ubuntu: apt-get install python3-venv (elsewhere, "
    "take a Python that has the venv module), and start again."
)


def python() -> Path:
    """The environment's interpreter."""
    return FOLDER / ("Scripts/python.exe" if os.name == "nt" else "bin/python")


def tell(sentence: str) -> None:
    """Say on stderr what is being done."""
    print(f"fishplate: {sentence}", file=sys.stderr, flush=True)  # noqa: T201 - the user waits for what it does


def surroundings() -> dict[str, str]:
    """The environment variables that installers and checks are started with: nothing leads elsewhere, nothing asks."""
    kept = {name: value for name, value in os.environ.items() if name not in ELSEWHERE}
    kept |= {"PIP_USER": "0", "PIP_REQUIRE_VIRTUALENV": "0", "PIP_NO_INPUT": "1", "PIP_DISABLE_PIP_VERSION_CHECK": "1"}
    if not kept.get("HOME"):
        kept.pop("HOME", None)  # an empty one means the top folder; without one, the account's own is found
        if os.name != "nt" and not _account_has_home():
            kept["PIP_NO_CACHE_DIR"] = "1"
    return kept


def _account_has_home() -> bool:
    import pwd

    try:
        return os.access(pwd.getpwuid(os.getuid()).pw_dir, os.W_OK)
    except KeyError:
        return False


def run(*words: str | Path, check: bool = True) -> int:
    """Run a command and show it; stops the program with its exit status if it fails and ``check`` is set."""
    print("+", *words, file=sys.stderr, flush=True)  # noqa: T201 - the user should see what is being run
    try:
        done = subprocess.run([str(word) for word in words], cwd=ROOT, check=False, env=surroundings())
        status = done.returncode
    except OSError as error:
        tell(f"{words[0]} can't be started: {error.strerror}")
        status = 127  # as a shell has it
    if check and status:
        sys.exit(status)
    return status


def quietly(*words: str | Path, more: Mapping[str, str] | None = None) -> tuple[int, str]:
    """Run a command without a word; its exit status, and all that it said."""
    done = subprocess.run(
        [str(word) for word in words],
        cwd=ROOT,
        check=False,
        env={**surroundings(), **(more or {})},
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        encoding="utf-8",
        errors="replace",
    )
    return done.returncode, done.stdout


def way_out(said: str) -> str | None:
    """What to do about a failed installation, by what the installer said; None if that tells nothing known."""
    for words, sentence in CAUSES:
        if any(word in said for word in words):
            version = ".".join(map(str, sys.version_info[:2]))
            return sentence.format(folder=FOLDER, version=version, last=_last_line(said))
    return None


def _is_fit() -> bool:
    """Whether the folder holds a whole environment: one whose making was cut off may have Python, but no pip."""
    if not python().exists():
        return False
    try:
        status, said = quietly(python(), "-I", "-c", PROBE)
        numbers = [int(word) for word in said.split()]
    except (OSError, ValueError):
        return False
    return status == 0 and tuple(numbers[:2]) >= OLDEST_PYTHON and tuple(numbers[2:]) >= OLDEST_PIP


def _make_folder() -> None:
    status, said = quietly(sys.executable, "-m", "venv", "--clear", FOLDER)
    if status == 0 and _is_fit():
        return
    if "ensurepip" not in said and "No module named" not in said:
        sys.exit(way_out(said) or f"{NO_VENV} It said: {_last_line(said)}")
    _make_folder_by_virtualenv()


def _make_folder_by_virtualenv() -> None:
    """Debian's python3 comes without venv; virtualenv does its work, from a folder that is gone afterwards."""
    tell("this Python comes without venv, so virtualenv is fetched to do its work this once")
    with tempfile.TemporaryDirectory(prefix="fishplate-setup-") as folder:
        words = ("install", "--quiet", "--target", folder, "-c", CONSTRAINTS, "virtualenv")
        status, said = quietly(sys.executable, "-m", "pip", *words)
        if status:
            sys.exit(
                f"{NO_VENV}" if "No module named pip" in said else f"{way_out(said) or _last_line(said)} {NO_VENV}"
            )
        more = {"PYTHONPATH": folder, "VIRTUALENV_OVERRIDE_APP_DATA": str(Path(folder) / "app-data")}
        status, said = quietly(sys.executable, "-m", "virtualenv", "--clear", FOLDER, more=more)
    if status or not _is_fit():
        sys.exit(way_out(said) or f"{NO_VENV} It said: {_last_line(said)}")


def _last_line(said: str) -> str:
    lines = [line.strip() for line in said.splitlines() if line.strip()]
    errors = [line for line in lines if line.lower().startswith("error")]
    return (errors or lines or ["nothing"])[-1]


def _fill(extra: str) -> None:
    what = f"{ROOT}[{extra}]" if extra else str(ROOT)
    # Of what only the tests need most modules are never imported, so compiling all of them takes longer than it saves.
    how = ["--no-compile"] if extra else []
    status, said = quietly(python(), "-I", "-m", "pip", "install", *how, "-c", CONSTRAINTS, "-e", what)
    LOG.write_text(said, encoding="utf-8")
    if status:
        sys.exit(f"{way_out(said) or f'The installation failed: {_last_line(said)}.'} All that pip said: {LOG}")


def _wanted(extra: str) -> str:
    """What a finished installation writes down; the folder's own path is in it, as it is in the environment."""
    parts = [path.read_text(encoding="utf-8") for path in (ROOT / "pyproject.toml", CONSTRAINTS)]
    return "\n".join([extra, str(ROOT), *parts])


def _is_done(extra: str) -> bool:
    try:
        return python().exists() and STAMP.read_text(encoding="utf-8") in (_wanted(extra), _wanted("dev"))
    except OSError:
        return False


def install(extra: str = "") -> Path:
    """Make the environment and install Fishplate in it (``extra``: ``dev`` or nothing); quick when nothing changed.

    Ends the program with one or two sentences that say what to do when a step can't be done.

    Returns:
        The environment's interpreter.
    """
    if _is_done(extra):
        return python()
    try:
        _install(extra)
    except KeyboardInterrupt:
        sys.exit("\nStopped before everything was installed. The next start goes on from here.")
    except OSError as error:
        sys.exit(way_out(str(error)) or f"The installation failed: {error}")
    return python()


def _install(extra: str) -> None:
    begun = time.monotonic()
    home = FOLDER if FOLDER.exists() else ROOT
    if not os.access(home, os.W_OK):
        sys.exit(
            f"{home} can't be written by you, and everything that is needed goes in there. "
            "Make the clone anew in a folder of your own, and start there."
        )
    STAMP.unlink(missing_ok=True)  # from here on, until all is there, it counts as not installed
    tell(f"setting up in {FOLDER}; your own Python stays as it is")
    if not _is_fit():
        tell("step 1 of 2: making an environment of its own (some seconds)")
        _make_folder()
    how_long = (
        "about 1.2 GB on the disk, two to six minutes" if extra else "about 250 MB on the disk, one to two minutes"
    )
    tell(f"step 2 of 2: fetching and installing packages from the package index ({how_long})")
    _fill(extra)
    whole = STAMP.with_suffix(".part")
    whole.write_text(_wanted(extra), encoding="utf-8")
    whole.replace(STAMP)
    tell(f"set up in {time.monotonic() - begun:.0f} s; the next start takes a second")
