"""The workbench by keyboard alone: everything is reached by Tab and worked by keys (WCAG 2.2, 2.1.1 and 2.4.3)."""

import re

import pytest
from playwright.sync_api import Page, expect

from tests.browser.sketching import Sketch
from tests.browser.test_pages import violations

pytestmark = pytest.mark.browser
MOST_TABS = 160


@pytest.fixture
def context_options() -> dict[str, object]:
    return {"viewport": {"width": 1440, "height": 900}}


def tab_to(page: Page, selector: str, key: str = "Tab") -> None:
    """Press Tab until the focus is there; from the top of the page if it was nowhere."""
    for _ in range(MOST_TABS):
        if page.evaluate("selector => document.activeElement?.matches(selector) ?? false", selector):
            return
        page.keyboard.press(key)
    message = f"no way to {selector} by {key}"
    raise AssertionError(message)


def test_a_case_is_planned_by_keys_alone(page: Page) -> None:
    sketch = Sketch(page).open_sample("For the trainees")
    page.evaluate("document.activeElement.blur()")
    keys = page.keyboard

    tab_to(page, "#line-0")
    keys.press("ArrowRight")
    sketch.written_after(1)
    tab_to(page, "#board [data-hole]")
    role = page.evaluate("document.activeElement.dataset.role")
    keys.press("Enter")
    sketch.written_after(2)
    assert page.evaluate("document.activeElement.dataset.role") != role
    keys.press("Control+z")
    sketch.written_after(3)

    tab_to(page, "#hints-away")
    keys.press("Enter")
    expect(page.locator("#hints")).to_be_hidden()
    tab_to(page, "#signs-button")
    keys.press("Enter")
    expect(page.locator("#signs")).to_be_visible()
    keys.press("Escape")
    expect(page.locator("#signs")).to_be_hidden()
    keys.press("2")
    tab_to(page, "#c-bone-quality")
    for key in ("ArrowDown", "ArrowDown", "Enter"):
        keys.press(key)
    sketch.written_after(4)
    assert sketch.exported()["bone_quality"] != "normal"

    tab_to(page, "#warning-list button.remedy", "Shift+Tab")
    keys.press("Enter")
    sketch.written_after(5)
    page.evaluate("document.activeElement.blur()")
    tab_to(page, "#step-on")
    keys.press("Enter")
    expect(page.locator("#step-where")).to_have_text(re.compile("step 1 of"))
    keys.press("Escape")
    expect(page.locator("#step-where")).to_have_text("plan")
    tab_to(page, "#whatif-keep")
    keys.press("Enter")
    expect(page.locator("#whatif-list li")).to_have_count(1)


@pytest.mark.parametrize("size", [(1440, 900), (390, 844)], ids=str)
def test_with_the_systems_own_colours_there_is_no_axe_violation(page: Page, size: tuple[int, int]) -> None:
    page.set_viewport_size({"width": size[0], "height": size[1]})
    page.emulate_media(forced_colors="active")
    Sketch(page).open_sample("Forearm in the winch")
    page.wait_for_load_state("networkidle")
    assert violations(page) == []
    page.keyboard.press("s")
    assert violations(page) == []
    page.goto("/")
    assert violations(page) == []
