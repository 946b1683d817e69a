"""What a start loads: the first page waits for all of it."""

import subprocess
import sys
from pathlib import Path

SLOW = {"numpy", "typst", "alembic"}
CODE = """
import sys
from pathlib import Path
from app.web import Settings, create_app
create_app(Settings(data_dir=Path(sys.argv[1])))
print(*sys.modules)
"""


def test_the_first_page_waits_for_nothing_that_it_does_without(tmp_path: Path) -> None:
    words = [sys.executable, "-W", "error", "-c", CODE, str(tmp_path)]
    loaded = set(subprocess.run(words, capture_output=True, text=True, timeout=60, check=True).stdout.split())
    assert {"svgwrite", "sqlalchemy"} <= loaded
    assert not SLOW & loaded
