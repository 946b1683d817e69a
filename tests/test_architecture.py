"""Arrows run downwards only: case <- catalogue <- geometry <- mechanics, order <- rules <- assess <- the rest."""

import ast
from pathlib import Path

import app

ROOT = Path(app.__file__).parent

# What each part may import of ours, besides itself.
ALLOWED: dict[str, set[str]] = {
    "shipped": set(),
    "beside": set(),
    "case": set(),
    "catalogue": {"case"},
    "geometry": {"case", "catalogue"},
    "mechanics": {"case", "catalogue", "geometry"},
    "order": {"case", "catalogue", "geometry"},
    "rules": {"case", "catalogue", "geometry", "mechanics", "order"},
    "figures": {"case", "geometry", "mechanics", "rules"},
    "assess": {"case", "catalogue", "geometry", "mechanics", "order", "rules"},
    "document": {"assess", "case", "catalogue", "figures", "geometry", "layout_map", "mechanics", "order", "rules"},
    "suggest": {"assess", "case", "catalogue", "geometry", "rules"},
    "layout_map": {"assess", "case", "catalogue", "figures", "geometry", "mechanics", "rules"},
    "drawing": {"assess", "case", "catalogue", "geometry", "mechanics", "order", "rules", "shipped", "single_flight"},
    "map_picture": {"assess", "drawing", "layout_map"},
    "sheet": {
        "assess",
        "case",
        "catalogue",
        "drawing",
        "figures",
        "geometry",
        "layout_map",
        "map_picture",
        "mechanics",
        "order",
        "rules",
        "shipped",
    },
    "compare": {"assess", "case", "catalogue", "drawing", "figures", "geometry", "mechanics", "rules"},
    "store": {"case", "single_flight"},
    "exchange": {"assess", "case", "catalogue", "drawing", "geometry", "rules", "sheet", "shipped", "store"},
    "streams": set(),
    "samples": {"case", "shipped"},
    "single_flight": set(),
    "wording": set(),
    "environment": set(),
    "__main__": {"environment"},
}
EVERYTHING = {"web", "cli"}


def part_of(module: str) -> str | None:
    steps = module.split(".")
    return steps[1] if steps[0] == "app" and len(steps) > 1 else None


def imports(path: Path) -> set[str]:
    found: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found |= {part for alias in node.names if (part := part_of(alias.name))}
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: relative import hides the direction"
            if node.module == "app":
                found |= {alias.name for alias in node.names if alias.name != "__version__"}
            elif node.module and (part := part_of(node.module)):
                found.add(part)
    return found


def owner(path: Path) -> str:
    return path.relative_to(ROOT).parts[0].removesuffix(".py")


FILES = sorted(path for path in ROOT.rglob("*.py") if owner(path) not in {"__init__", "_shipped"})


def test_imports_point_downwards() -> None:
    allowed = {path: ALLOWED.get(owner(path), set()) | {owner(path)} for path in FILES if owner(path) not in EVERYTHING}
    assert {str(path): found for path, may in allowed.items() if (found := imports(path) - may)} == {}


def test_every_part_has_its_place() -> None:
    assert {owner(path) for path in FILES} == set(ALLOWED) | EVERYTHING


def test_the_server_is_nobodys_foundation() -> None:
    assert [path for path in FILES if owner(path) not in EVERYTHING and "web" in imports(path)] == []


def test_files_stay_small() -> None:
    lengths = {str(path): len(path.read_text(encoding="utf-8").splitlines()) for path in FILES}
    assert {path: length for path, length in lengths.items() if length > 500} == {}
