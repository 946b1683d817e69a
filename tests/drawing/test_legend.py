"""What signs mean is said of the signs that are drawn: the same shapes, letters and classes as in the drawing."""

import io
import re

import pytest
from PIL import Image

from app.assess import assess, load_knowledge
from app.case.roles import ROLE
from app.drawing import draw_sketch, legend
from app.exchange import drawing_png
from app.samples import load_samples
from tests.drawing.constructs import SOME, assessed

LEVELS = ("stop", "caution", "note")


def classes(svg: str) -> set[str]:
    return {name for found in re.findall(r'class="([^"]+)"', svg) for name in found.split()}


def test_every_role_and_level_has_its_sign_and_no_two_look_alike() -> None:
    signs = {sign.id: sign for sign in legend()}
    for role, words in ROLE.items():
        if role != "empty":
            assert role in classes(signs[role].svg)
            assert f">{words.letter}</text>" in signs[role].svg
            assert signs[role].words.startswith(words.screw)
    for level in LEVELS:
        assert f"flag-{level}" in classes(signs[level].svg)
        assert signs[level].words.startswith(level)
    assert len({sign.svg for sign in legend()}) == len({sign.words for sign in legend()}) == len(legend())


def test_no_sign_shows_what_no_drawing_has() -> None:
    charted = assess(load_samples()[0].case, load_knowledge()).constructs[0]
    drawn = set().union(*(classes(draw_sketch(one)) for one in (charted, *map(assessed, SOME.values()))))
    shown = set().union(*(classes(sign.svg) for sign in legend()))
    assert shown - drawn - {"sign"} == set()


@pytest.mark.parametrize(("role", "inked"), [("locking-2", 1.0), ("locking-1", 0.5)])
def test_the_core_is_inked_for_each_cortex(role: str, inked: float) -> None:
    sign = next(sign for sign in legend("print") if sign.id == role)
    picture = Image.open(io.BytesIO(drawing_png(sign.svg, 520))).convert("L")
    scale = 520 / 26  # pixels to a unit of the sign
    middle, r = ((13 - 4) * scale, 13 * scale), 3.5 * scale * 0.7
    pixels = [
        picture.getpixel((round(middle[0] + dx), round(middle[1] + dy)))
        for dx in range(-round(r), round(r))
        for dy in range(-round(r), round(r))
        if dx * dx + dy * dy < r * r
    ]
    black = sum(1 for one in pixels if isinstance(one, int) and one < 128) / len(pixels)
    assert inked <= black + 0.03 <= inked + 0.22  # the outline of the half that is inked takes some of the other
