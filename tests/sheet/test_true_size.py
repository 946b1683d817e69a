"""True size, measured on the rendered page and not on what the template was told."""

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.sheet import Paper
from app.sheet import figure as figures
from app.sheet.figure import OVERLAP_MM, figure, tiles
from tests.order.constructs import bridged_ulna, oblique, oblique_radius
from tests.sheet.pages import assessed, crowded, dark_runs, opened, sheet, text_of, words_of


def true_pages(data: bytes) -> list:
    return [page for page in opened(data) if "True size" in text_of(page)]


@pytest.mark.parametrize("paper", ["a4", "letter"])
@pytest.mark.parametrize("long", [False, True])
def test_check_bar_measures_100_mm(paper: Paper, long: bool) -> None:
    pages = true_pages(sheet(crowded() if long else assessed(oblique_radius()), paper=paper))
    assert len(pages) == (2 if long else 1)
    for page in pages:
        words = words_of(page)
        (label,) = [word for word in words if word[4] == "100" and any(_beside(word, other) for other in words)]
        runs = [run for run in dark_runs(page, label[1] - 4, label[1]) if run > 50]
        # the bar is 1.5 mm high: 30 rows at 508 dpi
        assert len(runs) == pytest.approx(30, abs=2)
        assert runs == pytest.approx([100.0] * len(runs), abs=0.3)


def _beside(number: tuple[float, float, float, float, str], unit: tuple[float, float, float, float, str]) -> bool:
    return unit[4] == "mm" and abs(unit[1] - number[1]) < 0.5 and 0 < unit[0] - number[2] < 2


def test_a_drawn_length_measures_what_it_says(monkeypatch: pytest.MonkeyPatch) -> None:
    svg = (
        '<svg xmlns="http://www.w3.org/2000/svg" viewBox="40 0 150 60"><title>stand-in</title>'
        '<rect x="60" y="10" width="80" height="5"/></svg>'
    )
    monkeypatch.setattr(figures, "draw_sketch", lambda *_, **__: svg)
    (page,) = true_pages(sheet(assessed(oblique_radius())))
    lengths = [run for run in dark_runs(page, 35, 90) if run > 50]
    assert len(lengths) == pytest.approx(100, abs=2)  # 5 mm high at 508 dpi
    assert lengths == pytest.approx([80.0] * len(lengths), abs=0.3)


@pytest.mark.parametrize("construct", [oblique_radius(), bridged_ulna()], ids=["radius", "ulna"])
def test_hole_numbers_stand_as_far_apart_as_the_holes(construct) -> None:
    assessment = assessed(construct)
    (page,) = true_pages(sheet(assessment))
    places = assessment.constructs[0].layout.holes
    labels = [word for word in words_of(page) if word[4] in ("1", "8")]
    distance = places[7].s_mm - places[0].s_mm
    found = [
        (right[0] + right[2]) / 2 - (left[0] + left[2]) / 2
        for left in labels
        for right in labels
        if left[4] == "1" and right[4] == "8" and abs(left[1] - right[1]) < 4
    ]
    assert any(value == pytest.approx(distance, abs=0.3) for value in found)


def test_a_long_plate_is_cut_into_overlapping_parts() -> None:
    pages = true_pages(sheet(crowded()))
    assert ["part 1 of 2" in text_of(pages[0]), "part 2 of 2" in text_of(pages[1])] == [True, True]
    assert all("dashed lines" in text_of(page) for page in pages)


def test_a_plate_that_fits_lies_on_one_page() -> None:
    for construct in (oblique_radius(), oblique("humerus", 40)):
        (page,) = true_pages(sheet(assessed(construct)))
        assert ", part" not in text_of(page)


@given(width=st.floats(30, 900), room=st.floats(100, 280))
def test_parts_cover_the_drawing_and_fit_the_page(width: float, room: float) -> None:
    parts = tiles(width, room)
    assert parts[0].start_mm == 0
    assert parts[-1].start_mm + parts[-1].width_mm == pytest.approx(width)
    assert all(part.width_mm <= room + 1e-6 for part in parts)
    for left, right in pairwise(parts):
        assert left.start_mm + left.width_mm - right.start_mm == pytest.approx(OVERLAP_MM)
        # a join is marked on both parts, at the same place of the bone
        assert set(left.joins_mm) & set(right.joins_mm)
    if len(parts) > 1:
        assert width > room


def test_a_drawing_without_window_is_refused() -> None:
    with pytest.raises(ValueError, match="scale is unknown"):
        figure("<svg></svg>")
    with pytest.raises(ValueError, match="20 mm"):
        tiles(100, 15)
