"""Drawings as PNG: the right size, the right scale, the right colours."""

from collections import Counter

import pytest
from fontTools.ttLib import TTFont

from app.drawing import View, draw_sketch
from app.drawing.palette import PALETTES
from app.drawing.typeface import FONT
from app.exchange import drawing_png, picture
from app.shipped import typefaces
from tests import papers
from tests.drawing.constructs import SOME, assessed

WINDOW = 'xmlns="http://www.w3.org/2000/svg" viewBox="-10 0 200 100"'
SHEET = '<rect x="-10" width="200" height="100" fill="#fff"/>'
GREEN = f'<svg {WINDOW}>{SHEET}<rect x="90" width="50" height="50" fill="#0a0"/></svg>'


def pixels(png):
    return papers.picture(png).convert("RGB")


@pytest.mark.parametrize("width", [16, 333, 1000, 1920, 8192])
def test_a_picture_is_as_wide_as_asked_and_keeps_the_drawings_shape(width):
    png = drawing_png(GREEN, width)
    assert png.startswith(b"\x89PNG\r\n\x1a\n")
    picture = pixels(png)
    assert (picture.width, picture.height) == (width, round(width / 2))


def test_what_is_drawn_lands_where_it_belongs():
    picture = pixels(drawing_png(GREEN, 400))  # 2 px a unit, from x = -10
    inside, outside = (0, 170, 0), (255, 255, 255)
    assert [picture.getpixel((x, 50)) for x in (198, 202, 298, 302)] == [outside, inside, inside, outside]
    assert [picture.getpixel((250, y)) for y in (98, 102)] == [inside, outside]


@pytest.mark.parametrize("theme", ["light", "dark", "print"])
def test_a_sketch_in_each_theme(theme):
    one = assessed(SOME["oblique, lag through the plate"])
    svg = draw_sketch(one, theme=theme, interactive=False)
    picture = pixels(drawing_png(svg, 1200))
    paper, ink = (bytes.fromhex(PALETTES[theme][name][1:]) for name in ("paper", "ink"))
    samples = picture.tobytes()
    found = Counter(samples[at : at + 3] for at in range(0, len(samples), 3))
    assert bytes(picture.getpixel((2, 2))) == paper
    assert found[paper] > found[ink] > 500
    assert len(found) > 30


def ink(text, weight=400):
    """Which columns of pixels the writing covers; 10 px a unit, type size 30."""
    face = f'font-size="30" font-weight="{weight}" font-family="{FONT}"'
    svg = f'<svg {WINDOW}><text x="0" y="50" {face}>{text}</text></svg>'
    alpha = papers.picture(drawing_png(svg, 2000)).getchannel("A")
    row = alpha.tobytes()
    return [x for x in range(alpha.width) if any(row[x :: alpha.width])]


@pytest.mark.parametrize(("weight", "file"), [(400, "regular"), (600, "strong")])
@pytest.mark.parametrize("text", ["0", "H", "8", "Å", "µ", "W"])
def test_writing_is_painted_with_the_shipped_face(text, weight, file):
    # The outline's edges as the font file has them (glyf table); another face would have others.
    font = TTFont(typefaces() / f"fishplate-sans-{file}.ttf")
    outline = font["glyf"][font.getBestCmap()[ord(text)]]
    px = 30 * 10 / font["head"].unitsPerEm
    columns = ink(text, weight)
    assert (columns[0], columns[-1] + 1) == pytest.approx((100 + outline.xMin * px, 100 + outline.xMax * px), abs=1.1)


def test_no_writing_no_ink():
    assert ink("") == []


@pytest.mark.parametrize("text", ["Hole 3 × 40° – ÷ ≤ ½ µm → Łódź", "bridging span 36 mm"])
def test_the_machines_fonts_change_nothing_about_what_the_face_has(text, monkeypatch):
    svg = f'<svg {WINDOW}><text x="0" y="50" font-size="9" font-family="{FONT}">{text}</text></svg>'
    alone = drawing_png(svg, 900)
    monkeypatch.setattr(picture, "has_signs", lambda _: False)  # then the machine's fonts are read too
    assert drawing_png(svg, 900) == alone


def test_the_same_drawing_gives_the_same_picture():
    svg = draw_sketch(assessed(SOME["segmental"]), view=View(50, 300), theme="light", interactive=False)
    assert drawing_png(svg, 900) == drawing_png(svg, 900)


@pytest.mark.parametrize("width", [15, 8193, 0, -100])
def test_pictures_too_small_or_too_large_are_refused(width):
    with pytest.raises(ValueError, match="pixels wide"):
        drawing_png(GREEN, width)


def test_a_drawing_that_would_be_too_high_is_refused():
    with pytest.raises(ValueError, match="pixels high"):
        drawing_png('<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 1 300"/>', 100)


@pytest.mark.parametrize("svg", ["", "<svg/>", f"<svg {WINDOW}><g>", f"<svg {WINDOW}>&nothing;</svg>"])
def test_what_is_no_drawing_is_refused(svg):
    with pytest.raises(ValueError, match="drawing"):
        drawing_png(svg, 400)
