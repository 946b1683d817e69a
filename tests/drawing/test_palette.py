"""Contrast of both palettes, and the style sheet in step with them.

Ratios after WCAG 2.2, success criteria 1.4.3 (text, 4.5:1) and 1.4.11 (shapes and focus, 3:1); relative luminance as
defined there.
"""

import re
from pathlib import Path

import pytest

import app
from app.drawing.palette import DARK, LIGHT, PALETTES, PRINT, Palette
from app.drawing.style import RULES, embedded

SHEET = Path(app.__file__).parent.parent / "static" / "css" / "drawing.css"
BOTH = pytest.mark.parametrize("palette", [LIGHT, DARK, PRINT], ids=["light", "dark", "print"])


def luminance(colour: str) -> float:
    parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    r, g, b = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts)
    return 0.2126 * r + 0.7152 * g + 0.0722 * b


def contrast(one: str, other: str) -> float:
    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)


def test_the_measure_itself() -> None:
    # WCAG: black on white is 21:1. #767676 on white as the lightest grey that passes 4.5:1 is common knowledge.
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.01)


@BOTH
def test_text_can_be_read(palette: Palette) -> None:
    for text in ("ink", "soft", "stop", "caution", "note"):
        assert contrast(palette[text], palette["paper"]) >= 4.5, text
    for ground in ("paper", "canal", "bone"):
        assert contrast(palette["ink"], palette[ground]) >= 4.5, ground


@BOTH
def test_shapes_can_be_told_from_their_ground(palette: Palette) -> None:
    for ground in ("paper", "bone", "canal", "metal", "neutral", "eccentric", "lag", "locking", "shard"):
        assert contrast(palette["ink"], palette[ground]) >= 3, ground
    for line in ("fracture", "handle", "focus"):
        for ground in ("paper", "bone", "canal"):
            assert contrast(palette[line], palette[ground]) >= 3, (line, ground)
    for flag in ("stop", "caution", "note"):
        for ground in ("paper", "canal", "bone"):
            assert contrast(palette[flag], palette[ground]) >= 3, (flag, ground)


@BOTH
def test_focus_shows_on_plate_and_heads(palette: Palette) -> None:
    assert contrast(palette["focus"], palette["metal"]) >= 3


def variables(block: str) -> Palette:
    return dict(re.findall(r"--draw-([a-z-]+): (#[0-9a-f]{6});", block))


def test_the_style_sheet_repeats_the_palettes() -> None:
    sheet = SHEET.read_text(encoding="utf-8")
    blocks = [variables(block) for block in re.findall(r"\{([^{}]*--draw-paper:[^{}]*)\}", sheet)]
    assert blocks == [LIGHT, DARK, DARK, PRINT]


def test_the_style_sheet_repeats_the_rules() -> None:
    assert RULES in SHEET.read_text(encoding="utf-8")


def test_every_palette_names_every_colour() -> None:
    used = set(re.findall(r"var\(--draw-([a-z-]+)\)", SHEET.read_text(encoding="utf-8")))
    for palette in PALETTES.values():
        assert used <= set(palette)


@pytest.mark.parametrize("theme", sorted(PALETTES))
def test_a_file_of_its_own_needs_no_variables(theme: str) -> None:
    assert "var(" not in embedded(theme)
    assert PALETTES[theme]["ink"] in embedded(theme)
