"""Setting up on machines that lack something: what is said, what is touched, and that half done is not done.

What pip and venv say is written down from real runs of pip 23 to 26 and of Debian's python3 without python3-venv.
"""

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

from app import environment
from tests import __main__ as gate

ROOT = Path(__file__).parent.parent
NO_NETWORK = """WARNING: Retrying (Retry(total=4)) after connection broken by 'NewConnectionError('<pip>:
Failed to establish a new connection: [Errno -3] Temporary failure in name resolution')': /simple/hatchling/
ERROR: Could not find a version that satisfies the requirement hatchling>=1.25 (from versions: none)
ERROR: No matching distribution found for hatchling>=1.25
"""
DISK_FULL = "ERROR: Could not install packages due to an OSError: [Errno 28] No space left on device\n"
NO_BUILD = (
    "ERROR: Ignored the following versions that require a different Python version\nERROR: No matching distribution"
)
NO_ENSUREPIP = """The virtual environment was not created successfully because ensurepip is not
available.  On Debian/Ubuntu systems, you need to install the python3-venv
package using the following command.
"""

Answer = tuple[int, str]


class Machine:
    """Answers commands by their words, and remembers them; what it is not told of works."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch, folder: Path) -> None:
        self.root = folder
        self.asked: list[str] = []
        self.answers: dict[str, Answer] = {}
        self.pip = "3 13 25 1"
        venv = folder / ".venv"
        for name, value in {
            "ROOT": folder,
            "FOLDER": venv,
            "CONSTRAINTS": folder / ".constraints.txt",
            "STAMP": venv / "fishplate-installed",
            "LOG": venv / "install.log",
        }.items():
            monkeypatch.setattr(environment, name, value)
        (folder / "pyproject.toml").write_text("one", encoding="utf-8")
        (folder / ".constraints.txt").write_text("two", encoding="utf-8")
        monkeypatch.setattr(environment, "quietly", self.quietly)

    def quietly(self, *words: str | Path, **_more: object) -> Answer:
        line = " ".join(map(str, words))
        self.asked.append(line)
        for part, answer in self.answers.items():
            if part in line:
                return answer
        if " -m venv " in line or " -m virtualenv " in line:
            environment.python().parent.mkdir(parents=True, exist_ok=True)
            environment.python().touch()
        return (0, self.pip) if environment.PROBE in line else (0, "")

    def refusal(self, extra: str = "") -> str:
        with pytest.raises(SystemExit) as caught:
            environment.install(extra)
        assert not environment.STAMP.exists()
        return str(caught.value.code)

    def count(self, part: str) -> int:
        return sum(part in line for line in self.asked)


@pytest.fixture
def machine(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Machine:
    return Machine(monkeypatch, tmp_path)


def few_sentences(text: str) -> bool:
    return text.count("\n") <= 1 and "Traceback" not in text and len(text) < 600


def test_each_step_says_what_where_and_how_long(machine: Machine, capsys: pytest.CaptureFixture[str]) -> None:
    environment.install()
    told = capsys.readouterr().err.splitlines()
    assert len(told) == 4
    assert str(machine.root / ".venv") in told[0]
    assert "seconds" in told[1]
    assert re.search(r"\d+ MB.*minutes", told[2])


def test_a_second_start_asks_nothing_and_says_nothing(machine: Machine, capsys: pytest.CaptureFixture[str]) -> None:
    environment.install()
    capsys.readouterr()
    machine.asked.clear()
    environment.install()
    assert machine.asked == []
    assert capsys.readouterr().err == ""


def test_what_the_tests_need_serves_the_app_too(machine: Machine) -> None:
    environment.install("dev")
    machine.asked.clear()
    environment.install()
    assert machine.asked == []


@pytest.mark.parametrize(
    ("said", "asks"),
    [(NO_NETWORK, "HTTPS_PROXY"), (DISK_FULL, "disk is full"), (NO_BUILD, "3.13"), ("ERROR: odd\nbye", "ERROR: odd")],
)
def test_a_failed_installation_says_what_to_do(machine: Machine, said: str, asks: str) -> None:
    machine.answers[" -e "] = (1, said)
    told = machine.refusal()
    assert asks in told
    assert few_sentences(told)
    assert (machine.root / ".venv" / "install.log").read_text(encoding="utf-8") == said


def test_a_failed_installation_is_gone_on_with(machine: Machine) -> None:
    machine.answers[" -e "] = (1, NO_NETWORK)
    machine.refusal()
    machine.answers.clear()
    environment.install()
    assert machine.count(" -m venv ") == 1
    assert environment.STAMP.exists()


def test_an_environment_without_pip_is_made_anew(machine: Machine, monkeypatch: pytest.MonkeyPatch) -> None:
    """What is left when the making of it is cut off: the interpreter is linked first, pip comes last."""
    environment.python().parent.mkdir(parents=True)
    environment.python().touch()
    probes = iter([(1, "No module named pip"), (0, "3 13 25 1")])

    def quietly(*words: str | Path, **_more: object) -> Answer:
        return next(probes) if environment.PROBE in words else machine.quietly(*words)

    monkeypatch.setattr(environment, "quietly", quietly)
    environment.install()
    assert machine.count(" -m venv --clear ") == 1


@pytest.mark.parametrize("fit", ["3 10 25 1", "3 13 20 3"])
def test_an_environment_of_an_old_python_or_pip_is_not_taken(machine: Machine, fit: str) -> None:
    """PEP 660 came with pip 21.3 (pip's news); pyproject.toml asks for Python 3.11."""
    machine.pip = fit
    machine.refusal()
    assert machine.count(" -m venv --clear ") == 1


def test_an_interrupted_change_is_not_taken_for_the_installation_before_it(machine: Machine) -> None:
    environment.install()
    project = machine.root / "pyproject.toml"
    project.write_text("newer", encoding="utf-8")
    machine.answers[" -e "] = (1, NO_NETWORK)
    machine.refusal()
    project.write_text("one", encoding="utf-8")
    machine.answers.clear()
    machine.asked.clear()
    environment.install()
    assert machine.count(" -e ") == 1


def test_a_clone_that_was_moved_is_installed_again(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """A virtual environment isn't made to be moved (Python's documentation of venv): its paths are absolute."""
    (tmp_path / "here").mkdir()
    Machine(monkeypatch, tmp_path / "here")
    environment.install()
    moved = Machine(monkeypatch, (tmp_path / "here").rename(tmp_path / "there"))
    environment.install()
    assert moved.count(" -e ") == 1


def test_without_venv_virtualenv_does_it_from_a_folder_that_is_gone_afterwards(machine: Machine) -> None:
    machine.answers[" -m venv "] = (1, NO_ENSUREPIP)
    environment.install()
    (fetch,) = (line for line in machine.asked if line.endswith(" virtualenv"))
    folder = re.search(r"--target (\S+)", fetch)
    assert folder is not None
    assert not Path(folder[1]).exists()
    assert environment.STAMP.exists()


def test_nothing_goes_into_the_users_own_python(machine: Machine) -> None:
    machine.answers[" -m venv "] = (1, NO_ENSUREPIP)
    environment.install()
    own = [line for line in machine.asked if line.startswith(f"{sys.executable} ") and "install" in line]
    assert len(own) == 1
    assert "--target" in own[0]
    assert not any(word in line for line in machine.asked for word in ("--user", "--break-system-packages"))


@pytest.mark.parametrize("said", ["/usr/bin/python3: No module named pip", NO_NETWORK])
def test_without_venv_and_pip_or_network_the_package_is_named(machine: Machine, said: str) -> None:
    machine.answers[" -m venv "] = (1, "/usr/bin/python3: No module named venv")
    machine.answers[" virtualenv"] = (1, said)
    told = machine.refusal()
    assert "apt-get install python3-venv" in told
    assert few_sentences(told)


def test_a_folder_that_may_not_be_written(machine: Machine, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(os, "access", lambda *_: False)
    told = machine.refusal()
    assert str(machine.root) in told
    assert machine.asked == []


@pytest.mark.parametrize(
    "error",
    [KeyboardInterrupt(), PermissionError(13, "Permission denied", "x"), OSError(28, "No space left on device")],
)
def test_what_breaks_in_between_is_told_in_a_sentence(
    machine: Machine, monkeypatch: pytest.MonkeyPatch, error: BaseException
) -> None:
    def breaks(*_words: object, **_more: object) -> Answer:
        raise error

    monkeypatch.setattr(environment, "quietly", breaks)
    assert few_sentences(machine.refusal())


def test_installers_get_nothing_that_leads_elsewhere(monkeypatch: pytest.MonkeyPatch) -> None:
    for name in ("PIP_TARGET", "PIP_PREFIX", "PYTHONPATH", "PYTHONHOME"):
        monkeypatch.setenv(name, "/elsewhere")
    monkeypatch.setenv("PIP_USER", "1")
    monkeypatch.setenv("HOME", "")
    kept = environment.surroundings()
    assert "/elsewhere" not in kept.values()
    assert kept["PIP_USER"] == "0"
    assert "HOME" not in kept


def test_a_command_that_is_not_there_is_told(capsys: pytest.CaptureFixture[str]) -> None:
    assert environment.run("no-such-program-here", check=False) == 127
    assert "no-such-program-here" in capsys.readouterr().err


@pytest.mark.parametrize("package", ["app", "tests"])
def test_an_old_python_is_told_before_anything_it_cannot_read(package: str) -> None:
    """Both packages begin with what any Python reads; here a new one is made to call itself old."""
    code = f"import sys, runpy; sys.version_info = (3, 9); runpy.run_module({package!r}, run_name='__main__')"
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 1
    assert done.stderr.startswith("Fishplate needs Python 3.11 or newer, and this is Python 3.9.")
    assert few_sentences(done.stderr.strip())


def test_the_file_that_tells_it_has_nothing_new_in_it() -> None:
    """Read by the grammar of Python 3.7, the oldest that ``ast`` still knows; 2.7 reads it too, tried by hand."""
    import ast

    for file in ("app/__init__.py", "tests/__init__.py"):
        text = (ROOT / file).read_text(encoding="ascii")
        ast.parse(text, feature_version=(3, 7))
        assert 'f"' not in text
        assert ":=" not in text


class TestPrograms:
    """Chromium and PostgreSQL for ``python3 -m tests``."""

    @pytest.fixture
    def without(self, monkeypatch: pytest.MonkeyPatch) -> list[str]:
        ran: list[str] = []
        monkeypatch.setattr(gate, "have_chromium", lambda: False)
        monkeypatch.setattr(gate, "have_postgres", lambda: False)
        monkeypatch.setattr(gate, "have_nginx", lambda: False)

        def fails(*words: str | Path, **_more: object) -> int:
            ran.append(" ".join(map(str, words)))
            return 1

        monkeypatch.setattr(gate, "run", fails)
        monkeypatch.setattr(gate, "quietly", lambda *words: (fails(*words), ""))
        return ran

    def test_who_has_no_rights_is_not_asked_for_a_password(
        self, without: list[str], monkeypatch: pytest.MonkeyPatch
    ) -> None:
        monkeypatch.setattr(os, "geteuid", lambda: 1000)
        assert gate.fetch_programs(Path("python")) == ["chromium", "postgresql", "nginx"]
        assert not any("apt-get" in line or "--with-deps" in line for line in without)
        assert all("sudo -n" in line for line in without if "sudo" in line)

    def test_root_installs(self, without: list[str], monkeypatch: pytest.MonkeyPatch) -> None:
        monkeypatch.setattr(os, "geteuid", lambda: 0)
        monkeypatch.setattr(gate.shutil, "which", lambda name: f"/usr/bin/{name}")
        gate.fetch_programs(Path("python"))
        asked = [line.split()[-1] for line in without if line.startswith("apt-get") and " install " in line]
        # the next one where one can't be had
        assert asked == ["chromium-headless-shell", "chromium", "postgresql", "nginx-light", "nginx"]

    @pytest.mark.parametrize(("variables", "fetched"), [({"CI": "true"}, True), ({}, False)])
    def test_only_a_machine_of_its_own_gets_a_second_browser(
        self, monkeypatch: pytest.MonkeyPatch, variables: dict[str, str], fetched: bool
    ) -> None:
        """The one without a window is quicker; who works here has chosen another."""
        ran: list[str] = []
        for name in ("CI", "FISHPLATE_CHROMIUM"):
            monkeypatch.delenv(name, raising=False)
        for name, value in variables.items():
            monkeypatch.setenv(name, value)
        monkeypatch.setattr(os, "geteuid", lambda: 0)
        monkeypatch.setattr(gate, "missing", list)
        monkeypatch.setattr(gate.shutil, "which", lambda name: None if "shell" in name else f"/usr/bin/{name}")
        monkeypatch.setattr(gate, "run", lambda *words, **_more: ran.append(words[-1]) or 1)
        assert gate.fetch_programs(Path("python")) == []
        assert ("chromium-headless-shell" in ran) is fetched
        assert "chromium" not in ran

    def test_what_is_left_out_is_told(self, capsys: pytest.CaptureFixture[str]) -> None:
        assert gate.left_out(["chromium", "postgresql"], {}) is None
        told = capsys.readouterr().err
        assert "browser" in told
        assert "PostgreSQL server" in told
        assert "apt-get install chromium postgresql" in told

    @pytest.mark.parametrize("name", ["CI", "FISHPLATE_REQUIRE_ALL"])
    def test_where_nothing_may_be_left_out_the_run_ends(self, name: str) -> None:
        last_word = gate.left_out(["postgresql"], {name: "true"})
        assert last_word is not None
        assert "apt-get install postgresql" in last_word

    def test_where_nothing_is_missing_nothing_is_said(self, capsys: pytest.CaptureFixture[str]) -> None:
        assert gate.left_out([], {"CI": "true"}) is None
        assert capsys.readouterr().err == ""
