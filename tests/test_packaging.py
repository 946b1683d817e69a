"""The wheel carries what the server needs: static files, templates, sample cases, tables, fonts, migrations."""

import subprocess
import sys
import zipfile
from pathlib import Path

ROOT = Path(__file__).parent.parent
WANTED = [
    "app/_shipped/static/css/drawing.css",
    "app/_shipped/static/fonts/OFL.txt",
    "app/_shipped/static/fonts/fishplate-sans-regular.ttf",
    "app/_shipped/static/fonts/fishplate-sans-strong.woff2",
    "app/_shipped/static/js/sketch/main.js",
    "app/_shipped/static/schema/fishplate-case-1.json",
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
        scripts = archive.read(next(n for n in names if n.endswith("entry_points.txt"))).decode()
    assert set(WANTED) <= names
    assert "fishplate = app.cli:main" in scripts
    for folder in ("static", "templates", "sample_cases"):
        shipped = [path for path in (ROOT / folder).rglob("*") if path.is_file() and "__pycache__" not in path.parts]
        assert {f"app/_shipped/{path.relative_to(ROOT).as_posix()}" for path in shipped} <= names
    assert any(name.startswith("app/store/migrations/versions/") for name in names)
