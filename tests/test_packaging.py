"""The wheel carries what the server needs, what is imported is declared, and what an installation brings is pinned."""

import ast
import subprocess
import sys
import tomllib
import zipfile
from importlib import metadata
from pathlib import Path

from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

ROOT = Path(__file__).parent.parent
WANTED = [
    "app/CHANGES.md",
    "app/LICENSE",
    "app/_shipped/static/css/drawing.css",
    "app/_shipped/static/fonts/OFL.txt",
    "app/_shipped/static/fonts/fishplate-sans-regular.ttf",
    "app/_shipped/static/fonts/fishplate-sans-strong.woff2",
    "app/_shipped/static/js/sketch/main.js",
    "app/_shipped/static/schema/fishplate-case-2.json",
    "app/_shipped/templates/sketch.html",
    "app/_shipped/sample_cases/01-humerus-oblique-compression.json",
    "app/catalogue/data/bones.toml",
    "app/cli.py",
    "app/store/migrations/new_sqlite.sql",
]


def test_the_wheel_holds_everything(tmp_path: Path) -> None:
    words = [sys.executable, "-m", "pip", "wheel", "--quiet", "--no-deps", "--no-build-isolation", "-w", tmp_path, ROOT]
    subprocess.run([str(word) for word in words], check=True)
    (wheel,) = tmp_path.glob("fishplate-*.whl")
    with zipfile.ZipFile(wheel) as archive:
        names = set(archive.namelist())
        told = archive.read(next(n for n in names if n.endswith(".dist-info/METADATA"))).decode()
        scripts = archive.read(next(n for n in names if n.endswith("entry_points.txt"))).decode()
    assert set(WANTED) <= names
    assert "fishplate = app.cli:main" in scripts
    # core metadata 2.4 (PEP 639)
    assert {"License-File: app/LICENSE", "License-File: static/fonts/OFL.txt"} <= set(told.splitlines())
    assert any(name.endswith(".dist-info/licenses/app/LICENSE") for name in names)
    for folder in ("static", "templates", "sample_cases"):
        shipped = [path for path in (ROOT / folder).rglob("*") if path.is_file() and "__pycache__" not in path.parts]
        assert {f"app/_shipped/{path.relative_to(ROOT).as_posix()}" for path in shipped} <= names
    assert any(name.startswith("app/store/migrations/versions/") for name in names)


PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
# Fetched only where Python comes without venv (app/environment.py), and gone again: never part of an installation.
FOR_SETTING_UP = {"virtualenv", "distlib", "filelock", "platformdirs", "python-discovery"}


def declared(*extras: str) -> list[Requirement]:
    words = [*PROJECT["dependencies"], *(one for extra in extras for one in PROJECT["optional-dependencies"][extra])]
    return [found for found in map(Requirement, words) if found.name != "fishplate"]


def closure(todo: list[Requirement]) -> dict[str, str]:
    """All that comes with these requirements on this machine, by name: its version."""
    found: dict[str, str] = {}
    seen: set[str] = set()
    while todo:
        one = todo.pop()
        if str(one) in seen:
            continue
        seen.add(str(one))
        here = metadata.distribution(one.name)
        found[canonicalize_name(one.name)] = here.version
        further = [Requirement(line) for line in here.requires or []]
        extras = ["", *one.extras]
        todo += [r for r in further if r.marker is None or any(r.marker.evaluate({"extra": extra}) for extra in extras)]
    return found


def pins() -> dict[str, str]:
    lines = (ROOT / ".constraints.txt").read_text(encoding="utf-8").splitlines()
    return {canonicalize_name(name): version for name, _, version in (line.partition("==") for line in lines)}


def test_what_a_development_installation_brings_is_pinned_and_nothing_else() -> None:
    brought = closure(declared("dev", "postgresql"))
    assert set(brought) - set(pins()) == set(), "comes with an installation and has no pin"
    assert set(pins()) - set(brought) == FOR_SETTING_UP, "has a pin and doesn't come with an installation"
    assert {name: version for name, version in brought.items() if pins()[name] != version} == {}


def imported(folder: str) -> set[str]:
    found: set[str] = set()
    for path in (ROOT / folder).rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Import):
                found |= {alias.name.partition(".")[0] for alias in node.names}
            elif isinstance(node, ast.ImportFrom) and node.module:
                found.add(node.module.partition(".")[0])
    return found - set(sys.stdlib_module_names) - {"app", "tests"}


def undeclared(folder: str, *extras: str) -> dict[str, list[str]]:
    names = {canonicalize_name(one.name) for one in declared(*extras)}
    packages = metadata.packages_distributions()
    brought_by: dict[str, list[str]] = {
        module: [canonicalize_name(name) for name in packages.get(module, [])] for module in imported(folder)
    }
    return {module: found for module, found in brought_by.items() if not names.intersection(found)}


def test_what_is_imported_is_declared() -> None:
    assert undeclared("app", "postgresql") == {}
    assert undeclared("tests", "dev", "postgresql") == {}
