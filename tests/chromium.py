"""Where Chromium is, and what it is started with."""

import os
import shutil
import subprocess
from pathlib import Path

from app.shipped import typefaces

WINDOWLESS = "chromium-headless-shell"  # Debian's name for Chromium without a window
ARGS = [
    "--disable-quic",
    # Nothing outside resolves: a page that sneaks in an outside address fails its test. One name stands for a network.
    "--host-resolver-rules=MAP plates.test 127.0.0.1, MAP * ~NOTFOUND, EXCLUDE 127.0.0.1, EXCLUDE localhost",
]


FONTS_CONF = """<?xml version="1.0"?><!DOCTYPE fontconfig SYSTEM "fonts.dtd">
<fontconfig><dir>{fonts}</dir><cachedir>{cache}</cachedir></fontconfig>"""


def chromium_path() -> str | None:
    """Chromium named by FISHPLATE_CHROMIUM, or found on the path; None lets Playwright look for its own."""
    named = os.environ.get("FISHPLATE_CHROMIUM")
    names = (WINDOWLESS, "chromium", "chromium-browser", "google-chrome")
    return named or next((path for name in names if (path := shutil.which(name))), None)


def fonts_for_chromium(folder: Path) -> dict[str, str]:
    """The environment in which Chromium has a font at all.

    Chromium 156 crashes on any text field, of whatever page, where the machine has no font; there it is given ours. A
    machine's own fonts are left alone: what would show that a page takes one is ``test_typeface``.
    """
    lister = shutil.which("fc-list")
    if lister and subprocess.run([lister], capture_output=True, check=False).stdout.strip():
        return dict(os.environ)
    folder.mkdir(parents=True, exist_ok=True)
    config = folder / "fonts.conf"
    config.write_text(FONTS_CONF.format(fonts=typefaces(), cache=folder / "cache"), encoding="utf-8")
    return {**os.environ, "FONTCONFIG_FILE": str(config)}
