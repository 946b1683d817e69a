"""The sketch as a document: well-formed, complete, named, fit for a page under a strict policy."""

import re
from dataclasses import replace

import pytest

from app.case.models import Construct
from app.drawing import View, draw_sketch, fitted_view
from tests.drawing.constructs import SOME, SVG, assessed, by_id, construct, every_role, parsed, warning

EACH = pytest.mark.parametrize("drawn", SOME.values(), ids=SOME.keys())


@EACH
@pytest.mark.parametrize("interactive", [True, False])
def test_ids_are_unique_and_numbers_finite(drawn: Construct, interactive: bool) -> None:
    text = draw_sketch(assessed(drawn), interactive=interactive)
    ids = [element.get("id") for element in parsed(text).iter() if element.get("id")]
    assert len(ids) == len(set(ids))
    assert not re.search(r"\b(nan|inf)\b", text)


@EACH
def test_page_theme_obeys_a_strict_policy(drawn: Construct) -> None:
    root = parsed(draw_sketch(assessed(drawn)))
    for element in root.iter():
        assert element.tag not in {f"{SVG}style", f"{SVG}script"}
        assert not [name for name in element.attrib if name == "style" or name.startswith("on")]


@EACH
def test_references_stay_inside(drawn: Construct) -> None:
    root = parsed(draw_sketch(assessed(drawn)))
    ids = {element.get("id") for element in root.iter()}
    for element in root.iter():
        for value in element.attrib.values():
            for name in re.findall(r"url\(#([^)]*)\)", value):
                assert name in ids
        href = element.get("href")
        assert href is None or href[1:] in ids


def test_root_is_a_named_group_with_its_window() -> None:
    one = assessed(SOME["segmental"])
    root = parsed(draw_sketch(one))
    view = fitted_view(one.layout)
    assert root.get("id") == "sketch"
    assert root.get("role") == "group"
    assert "Tibia" in (root.get("aria-label") or "")
    assert root.get("data-view") == f"{view.start_mm:g},{view.end_mm:g}"
    left, top, width, height = map(float, (root.get("viewBox") or "").split())
    assert left < view.start_mm < view.end_mm < left + width
    assert top == 0
    assert height > 0


def test_a_given_window_is_kept() -> None:
    root = parsed(draw_sketch(assessed(SOME["segmental"]), view=View(100, 250)))
    assert root.get("data-view") == "100,250"
    left, _, width, _ = map(float, (root.get("viewBox") or "").split())
    assert left == pytest.approx(100 - 0.02 * 150)
    assert width == pytest.approx(150 * 1.04)


@pytest.mark.parametrize("ends", [(0, 10), (50, 40), (float("nan"), 100), (0, float("inf")), (-1e9, 1e9)])
def test_an_impossible_window_is_refused(ends: tuple[float, float]) -> None:
    with pytest.raises(ValueError, match="window"):
        View(*ends)


def test_fitted_window_shows_plate_and_fracture_with_bone_beyond() -> None:
    for drawn in SOME.values():
        layout = assessed(drawn).layout
        view = fitted_view(layout)
        low = min(layout.plate_ends_mm[0], layout.fracture.extent_mm[0])
        high = max(layout.plate_ends_mm[1], layout.fracture.extent_mm[1])
        assert view.start_mm <= max(0, low - 35)
        assert view.end_mm >= min(layout.shape.length_mm, high + 35)
        assert 0 <= view.start_mm < view.end_mm <= layout.shape.length_mm


def test_heights_stay_while_the_fracture_moves() -> None:
    window = View(40, 200)
    drawings = [
        parsed(draw_sketch(assessed(construct(lines=((s, lean, 0),))), view=window)) for s, lean in ((0, 0), (25, -50))
    ]
    assert drawings[0].get("viewBox") == drawings[1].get("viewBox")


def test_every_subject_of_a_warning_is_marked() -> None:
    drawn = construct(
        "tibia", "large-narrow-4.5", 10, every_role("large-narrow-4.5", 10),
        lines=((-30, 20, 0), (40, 0, 5)), lags=((-30, 20),),
    )  # fmt: skip
    subjects = (
        "h1", "h3", "s1", "line-0", "line-1", "plate", "bone",
        "fragment-proximal", "fragment-intermediate", "fragment-distal",
    )  # fmt: skip
    plain, marked = (
        parsed(draw_sketch(assessed(drawn, warnings)))
        for warnings in ((), tuple(warning("caution", subject) for subject in subjects))
    )
    uses = [sum(e.get("href") == "#flag-caution" for e in root.iter(f"{SVG}use")) for root in (plain, marked)]
    assert uses == [0, len(subjects)]
    for subject in subjects:
        if subject != "bone":
            parts = [e for e in marked.iter() if e.get("data-part") == subject]
            assert parts, subject
            assert all("warned-caution" in (e.get("class") or "") for e in parts)


def test_wedge_can_be_marked() -> None:
    root = parsed(draw_sketch(assessed(SOME["near wedge"], (warning("stop", "wedge"),))))
    assert "warned-stop" in (by_id(root, "wedge").get("class") or "")


def test_the_gravest_warning_shows() -> None:
    warnings = (warning("note", "h3"), warning("stop", "h3"), warning("caution", "h3"))
    root = parsed(draw_sketch(assessed(SOME["mini plate"], warnings)))
    assert "warned-stop" in (by_id(root, "hole-3").get("class") or "")


def test_bone_as_a_subject_has_a_part() -> None:
    root = parsed(draw_sketch(assessed(SOME["mini plate"], (warning("note", "bone"),))))
    assert any(e.get("data-part") == "bone" and "warned-note" in (e.get("class") or "") for e in root.iter())


def test_a_note_that_is_put_away_marks_nothing() -> None:
    away = replace(warning("note", "h3", "plate"), acknowledged=True)
    assert draw_sketch(assessed(SOME["mini plate"], (away,))) == draw_sketch(assessed(SOME["mini plate"]))
