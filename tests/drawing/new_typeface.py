"""Make the typeface under ``static/fonts`` anew, and the widths of its signs that the server counts with.

    .venv/bin/python -m tests.drawing.new_typeface

fetches the source from PyPI and writes, for the regular and the strong face, a TrueType file (for sheets and pictures)
and a WOFF2 file (for the page), then a small WOFF2 file of what drawings say (for drawings saved as SVG), the licence,
and ``app/drawing/widths.py``. Same source, same files. What a sign must be in is tested in ``test_typeface.py``: to
add one, name it in ``SIGNS`` here, and draw it in ``drawn_signs.py`` if the source lacks it.
"""

import shutil
import subprocess
import sys
import tempfile
import zipfile
from pathlib import Path

from fontTools import subset
from fontTools.ttLib import TTFont

from tests.drawing.drawn_signs import draw_missing

ROOT = Path(__file__).parent.parent.parent
FONTS = ROOT / "static" / "fonts"
WIDTHS = ROOT / "app" / "drawing" / "widths.py"
SOURCE, VERSION = "fontpkg-fira-sans", "4.203"  # SIL Open Font License 1.1, no reserved font name
FAMILY = "Fishplate Sans"
FACES = {"regular": ("FiraSans-Regular.ttf", 400), "strong": ("FiraSans-SemiBold.ttf", 600)}

LATIN = [*range(0x20, 0x7F), *range(0xA0, 0x180), 0x218, 0x219, 0x21A, 0x21B, 0x1E9E]
GREEK = [*range(0x391, 0x3A2), *range(0x3A3, 0x3AA), *range(0x3B1, 0x3CA)]
SIGNS = "‐‑‒–—‘’‚“”„†•…‰′″‹›⁄⁰⁴⁵⁶⁷⁸⁹₀₁₂₃₄₅₆₇₈₉€™←↑→↓↔↶↷−√∞∫∠⊥∅∑Ω∆≈≠≤≥⌀■▲▶▼◀●✓✗✕\u2009\u200b\u202f"
WANTED = sorted({*LATIN, *GREEK, *map(ord, SIGNS)})
IN_DRAWINGS = sorted({*range(0x20, 0x7F), *map(ord, "°²µ·½×÷–’“”…→−≈≤≥\u00a0")})
EPOCH = 3_600_000_000  # a date of its own for every run would make every run another file


def fetch(folder: Path) -> Path:
    """The unpacked source package."""
    words = ("-m", "pip", "download", "--quiet", "--no-deps", "--dest", str(folder), f"{SOURCE}=={VERSION}")
    subprocess.run([sys.executable, *words], check=True)
    (wheel,) = folder.glob("*.whl")
    with zipfile.ZipFile(wheel) as archive:
        archive.extractall(folder)
    return folder / SOURCE.replace("-", "_")


def tabular(font: TTFont) -> None:
    """Let the figures be the tabular ones at once: no program needs to be asked for them."""
    table = font["GSUB"].table
    lookups = {
        index
        for record in table.FeatureList.FeatureRecord
        if record.FeatureTag == "tnum"
        for index in record.Feature.LookupListIndex
    }
    instead: dict[str, str] = {}
    for index in lookups:
        for found in table.LookupList.Lookup[index].SubTable:
            instead |= found.ExtSubTable.mapping if hasattr(found, "ExtSubTable") else found.mapping
    digits = {ord(sign) for sign in "0123456789"}
    for part in font["cmap"].tables:
        part.cmap = {code: instead.get(name, name) if code in digits else name for code, name in part.cmap.items()}


def cut(font: TTFont, codes: list[int]) -> None:
    """Keep these signs only; no hints, so that every machine draws the same outlines."""
    options = subset.Options(
        hinting=False,
        layout_features=["kern"],
        name_IDs=[0, 1, 2, 3, 4, 5, 6, 13, 14],
        notdef_outline=True,
        drop_tables=["DSIG", "FFTM", "gasp", "GDEF", "meta"],
        legacy_kern=False,
    )
    cutter = subset.Subsetter(options)
    cutter.populate(unicodes=codes)
    cutter.subset(font)


def rename(font: TTFont, weight: int) -> None:
    """Our own name, so that no font of the machine is taken for it; the copyright stays."""
    style = "Regular" if weight == 400 else "Bold"
    names = font["name"]
    for record in list(names.names):
        if record.platformID != 3 or record.langID != 0x409:
            names.removeNames(record.nameID, record.platformID, record.platEncID, record.langID)
    postscript = f"{FAMILY.replace(' ', '')}-{style}"
    origin = f"Version {VERSION}; subset, renamed, tabular figures"
    for number, text in {1: FAMILY, 2: style, 3: postscript, 4: f"{FAMILY} {style}", 5: origin, 6: postscript}.items():
        names.setName(text, number, 3, 1, 0x409)
    font["OS/2"].usWeightClass = weight
    font["OS/2"].fsSelection = font["OS/2"].fsSelection & ~0x61 | (0x40 if weight == 400 else 0x20)
    font["head"].macStyle = 0 if weight == 400 else 1
    font["head"].created = font["head"].modified = EPOCH


def face(path: Path, weight: int, codes: list[int]) -> TTFont:
    """One face, ready to be written."""
    font = TTFont(path, recalcTimestamp=False)
    tabular(font)
    draw_missing(font, codes)
    cut(font, codes)
    rename(font, weight)
    missing = [chr(code) for code in codes if code not in font.getBestCmap()]
    if missing:
        message = f"{path.name} has no {' '.join(missing)}; draw them, or take them out of the list"
        raise SystemExit(message)
    return font


def write(font: TTFont, name: str, *, flavour: str | None) -> None:
    font.flavor = flavour
    path = FONTS / f"{name}.{flavour or 'ttf'}"
    font.save(path)
    sys.stdout.write(f"{path.relative_to(ROOT)}: {path.stat().st_size} bytes\n")


def widths(font: TTFont) -> dict[str, list[int]]:
    """Which signs are how wide, in thousandths of the type size."""
    found: dict[str, list[int]] = {}
    cmap, advances, em = font.getBestCmap(), font["hmtx"], font["head"].unitsPerEm
    for code in sorted(cmap):
        found.setdefault(chr(code), []).append(round(advances[cmap[code]][0] * 1000 / em))
    return found


def write_widths(faces: dict[str, TTFont]) -> None:
    """Signs of one width together: ``{width: signs}``."""
    lines = ['"""How wide each sign is, thousandths of the type size; made by ``tests.drawing.new_typeface``."""']
    for name, font in faces.items():
        together: dict[int, str] = {}
        for sign, (width,) in widths(font).items():
            together[width] = together.get(width, "") + sign
        lines += ["", f"{name.upper()} = {{"]
        lines += [f"    {width}: {signs!r}," for width, signs in sorted(together.items())]
        lines += ["}"]
    WIDTHS.write_text("\n".join([*lines, ""]), encoding="utf-8")
    subprocess.run([sys.executable, "-m", "ruff", "format", "--quiet", str(WIDTHS)], check=True)


def main() -> None:
    FONTS.mkdir(exist_ok=True)
    made: dict[str, TTFont] = {}
    with tempfile.TemporaryDirectory() as folder:
        source = fetch(Path(folder))
        shutil.copyfile(source / "LICENSE", FONTS / "OFL.txt")
        for name, (file, weight) in FACES.items():
            path = source / "files" / file
            made[name] = face(path, weight, WANTED)
            write(made[name], f"fishplate-sans-{name}", flavour=None)
            write(made[name], f"fishplate-sans-{name}", flavour="woff2")
            write(face(path, weight, IN_DRAWINGS), f"fishplate-sans-{name}-drawing", flavour="woff2")
    write_widths(made)


if __name__ == "__main__":
    main()
