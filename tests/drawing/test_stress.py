"""The stress chart: the mechanics' own figures, on the ruler's axis, and words where there is no curve."""

import re
from dataclasses import replace

import pytest

from app.assess import assess, load_knowledge
from app.drawing import draw_sketch, draw_thumbnail
from app.drawing.scale import STRESS_U
from app.drawing.sketch import scene_of
from app.drawing.stress import top_of_scale
from tests.rules.judging import edited, role, ulna

KNOWLEDGE = load_knowledge()


@pytest.fixture(scope="module")
def one():
    return assess(ulna(), KNOWLEDGE).constructs[0]


def points(svg: str) -> list[tuple[float, float]]:
    data = re.search(r'<path d="M([^"]*)Z" class="stress"', svg)
    assert data is not None
    return [(float(x), float(y)) for x, y in (pair.split(",") for pair in data[1].split("L"))]


def test_curve_is_the_plates_stress_on_the_axis_of_s(one) -> None:
    plate, frame = one.mechanics.plate, scene_of(one, None, True, charted=True).frame
    drawn = points(draw_sketch(one))[1:-1]
    per_mpa = STRESS_U * frame.u / top_of_scale(plate)
    assert [x for x, _ in drawn] == pytest.approx(plate.s_mm, abs=0.006)
    stresses = [(frame.ruler_row - y) / per_mpa for _, y in drawn]
    assert stresses == pytest.approx(plate.stress_mpa, abs=0.01 / per_mpa)


def test_strengths_and_peak_are_told(one) -> None:
    plate, svg = one.mechanics.plate, draw_sketch(one)
    assert f"fatigue strength {plate.fatigue_mpa:.0f}<" in svg
    assert f"yield strength {plate.yield_mpa:.0f}<" in svg
    assert f"peak {plate.peak_mpa:.0f}<" in svg
    assert "Plate stress, MPa" in svg
    assert top_of_scale(plate) > max(plate.peak_mpa, plate.yield_mpa)


def test_unstable_construct_has_words_and_the_same_height(one) -> None:
    loose = assess(edited(ulna(), role(1, "empty"), role(3, "empty")), KNOWLEDGE).constructs[0]
    svg = draw_sketch(loose)
    assert "No curve: unstable: the proximal fragment has no screw" in svg
    assert 'class="stress"' not in svg
    box = re.compile(r'viewBox="([^"]*)"')
    assert box.search(svg)[1] == box.search(draw_sketch(one))[1]  # type: ignore[index]


def test_no_chart_where_it_is_not_asked_for(one) -> None:
    without = replace(one, mechanics=None)
    assert 'id="stress"' not in draw_sketch(without)
    assert draw_sketch(one, charted=False) == draw_sketch(without)
    assert "stress" not in draw_thumbnail(one)


@pytest.mark.parametrize("theme", ["light", "dark", "print"])
def test_files_that_stand_alone_carry_its_colours(one, theme: str) -> None:
    svg = draw_sketch(one, theme=theme, interactive=False)  # type: ignore[arg-type]
    assert ".drawing .stress { fill: #" in svg
    assert 'class="stress"' in svg
