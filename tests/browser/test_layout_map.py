"""The map of layouts on the sketch page: by hand, by keyboard, tried without a write, kept as a what-if."""

import re

import pytest
from playwright.sync_api import Page, expect

from tests.browser.sketching import Sketch
from tests.browser.test_pages import violations

pytestmark = pytest.mark.browser


@pytest.fixture
def sketch(page: Page) -> Sketch:
    """The bridged femur with its map open."""
    sketch = Sketch(page).open_sample("Fall from the net loft")
    page.locator("#to-map").click()
    page.locator("#map").evaluate("panel => panel.scrollIntoView()")
    expect(page.locator("#layout-map")).to_be_visible()
    return sketch


def test_a_layout_is_tried_and_nothing_is_written(sketch: Sketch) -> None:
    page, version = sketch.page, sketch.version
    page.locator("#map-counts").locator("xpath=ancestor::details").locator("summary").click()
    page.locator("[data-map-screws='7']").click()
    expect(page.locator("#map-list-title")).to_contain_text("layouts with 7 screws")
    page.locator("#map-list [data-map-try]").first.click()
    expect(page.locator("#panel-summary")).to_contain_text("7 of 16")
    expect(page.locator("#status")).to_contain_text("nothing is written")
    assert sketch.version == version
    page.keyboard.press("Escape")
    expect(page.locator("#panel-summary")).to_contain_text("6 of 16")
    assert sketch.version == version


def test_a_layout_is_kept_as_a_what_if_and_the_construct_stays(sketch: Sketch) -> None:
    page = sketch.page
    page.locator("#map-changes").locator("xpath=ancestor::details").locator("summary").click()
    page.locator("#map-changes [data-map-keep]").first.click()
    expect(page.locator("#status")).to_contain_text("Kept as What-if 1; the construct is as it was.")
    expect(page.locator("#whatif-list li")).to_have_count(1)
    expect(page.locator("#panel-summary")).to_contain_text("6 of 16")
    expect(page.locator("[data-mark='whatif']")).to_have_count(1)


def test_arrows_go_from_place_to_place_and_enter_lists_one(sketch: Sketch) -> None:
    page = sketch.page
    page.locator("#map-board").focus()
    page.keyboard.press("ArrowRight")
    page.keyboard.press("ArrowUp")
    expect(page.locator("#map-said")).to_have_text(re.compile(r"^\d+ layouts?, (\d+|none) without objection$"))
    expect(page.locator(".map-cell.pointed")).to_have_count(1)
    page.keyboard.press("Enter")
    expect(page.locator("#map-list-title")).to_be_focused()
    assert page.locator("#map-list tbody tr").count() > 0


def test_marks_stand_under_the_holes_when_they_are_asked_for(sketch: Sketch) -> None:
    page = sketch.page
    expect(page.locator(".hole-mark")).to_have_count(0)
    page.locator("#map-holes").select_option("strain-far")
    expect(page.locator(".hole-mark")).to_have_count(12)
    expect(page.locator(".hole-mark[title^='Hole 6 left empty']")).to_have_attribute("data-way", "up")
    mark, hole = page.locator(".hole-mark[title^='Hole 6 ']").bounding_box(), sketch.hole(6).bounding_box()
    assert mark is not None
    assert hole is not None
    assert abs(mark["x"] + mark["width"] / 2 - hole["x"] - hole["width"] / 2) < 3


def test_the_map_is_accessible(sketch: Sketch) -> None:
    for more in sketch.page.locator(".map-more summary").all():
        more.click()
    assert violations(sketch.page) == []
