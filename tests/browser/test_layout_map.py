"""The map of layouts on the sketch page: by hand, by keyboard, tried without a write, kept as a what-if."""

import re

import pytest
from playwright.sync_api import Page, Route, expect

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
    """Its history, too: redo still leads to what was undone before."""
    page = sketch.page
    page.locator("#map-changes").locator("xpath=ancestor::details").locator("summary").click()
    page.locator("#map-changes tr", has_text="Fill hole 2").get_by_role("button", name="Take").click()
    expect(page.locator("#panel-summary")).to_contain_text("7 of 16")
    page.keyboard.press("Control+z")
    expect(page.locator("#panel-summary")).to_contain_text("6 of 16")
    version = sketch.version
    page.locator("#map-changes [data-map-keep]").first.click()
    expect(page.locator("#status")).to_contain_text("Kept as What-if 1; the construct is as it was.")
    expect(page.locator("#whatif-list li")).to_have_count(1)
    expect(page.locator("#panel-summary")).to_contain_text("6 of 16")
    expect(page.locator("[data-mark='whatif']")).to_have_count(1)
    assert sketch.version == version
    page.keyboard.press("Control+Shift+z")
    expect(page.locator("#panel-summary")).to_contain_text("7 of 16")


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


def test_it_says_which_screw_to_leave_out_and_what_that_costs_then_how_sure_that_is(sketch: Sketch) -> None:
    page = sketch.page
    expect(page.locator("#map-spared")).to_contain_text("Missed least: hole 16.")
    expect(page.locator("#map-spared")).to_contain_text("What it costs: 2 plate screws and 4 cortices")
    expect(page.locator("#layout-map")).to_have_attribute("data-drawn", "yes")  # asked for by itself, as the hand rests
    expect(page.locator("#map-sureness")).to_contain_text("in the same 23 draws")
    expect(page.locator(".map-better li").first).to_contain_text(re.compile(r"−\d+\s%"))


def test_what_was_listed_stays_when_the_panel_learns_how_sure_it_is(page: Page) -> None:
    sketch = Sketch(page)
    held: list[Route] = []
    page.route("**/map?*bands=true", lambda route: held.append(route))
    sketch.open_sample("Trip over a mooring rope")  # of which no other test has asked how sure it is
    with page.expect_request("**/map?*bands=true"):
        page.locator("#to-map").click()
        page.locator("#map-board").focus()
        page.keyboard.press("ArrowRight")
        page.keyboard.press("Enter")
        expect(page.locator("#map-list-title")).to_be_focused()
    while not held:  # it has been asked: the route hears of it in a moment
        page.wait_for_timeout(10)
    held[0].continue_()
    expect(page.locator("#layout-map")).to_have_attribute("data-drawn", "yes")
    expect(page.locator("#map-list-title")).to_be_focused()
    expect(page.locator(".map-cell.pointed")).to_have_count(1)


@pytest.mark.parametrize(("width", "height"), [(390, 844), (768, 1024)])
def test_where_board_and_panels_lie_on_top_of_each_other_the_tab_brings_the_map_into_sight(
    page: Page, width: int, height: int
) -> None:
    page.set_viewport_size({"width": width, "height": height})
    Sketch(page).open_sample("Fall from the net loft")
    page.locator("#to-map").click()
    expect(page.locator("#layout-map")).to_be_visible()
    for part in ("#map-title", "#map-spared"):
        expect(page.locator(part)).to_be_in_viewport(ratio=1)
    expect(page.locator("#layout-map-picture")).to_be_in_viewport()
    page.locator("#map-spared [data-map-try]").click()
    expect(page.locator("#panel-summary")).to_contain_text("5 of 16")
    expect(page.locator("#board")).to_be_in_viewport()


def test_the_map_is_accessible(sketch: Sketch) -> None:
    for more in sketch.page.locator(".map-more summary").all():
        more.click()
    assert violations(sketch.page) == []
