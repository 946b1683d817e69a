"""Every page: no axe violation, targets large enough, everything inside the window; colours in light and dark."""

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, expect

from tests.browser.sketching import Sketch

pytestmark = pytest.mark.browser
PAGES = ["/", "/rules", "/validation", "/help", "/api"]
TAGS = {"runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]}
# Every rule runs; axe only leaves out the account of what it found in order, which takes two thirds of its time.
FAULTS_ONLY = {"resultTypes": ["violations"]}


@pytest.fixture
def context_options() -> dict[str, object]:
    return {"viewport": {"width": 1280, "height": 800}}


@pytest.fixture(params=["light", "dark"])
def coloured(page: Page, request: pytest.FixtureRequest) -> Page:
    page.emulate_media(color_scheme=request.param)
    return page


# Panels below the window are not laid out until they come near it (CSS ``content-visibility: auto``): until then what
# is in them reports places outside its panel, where nobody ever sees it. Axe measures the page as it is when in sight.
LAID_OUT = """for (const one of document.querySelectorAll('*')) {
  if (getComputedStyle(one).contentVisibility === 'auto') one.style.contentVisibility = 'visible'
}"""


def violations(page: Page) -> list[str]:
    page.evaluate(f"() => {{ {LAID_OUT} }}")
    found = Axe().run(page, options=TAGS | FAULTS_ONLY).response["violations"]
    return [f"{v['id']}: {v['nodes'][0]['html'][:160]}" for v in found]


@pytest.mark.parametrize("path", PAGES)
def test_plain_pages_have_no_axe_violation(coloured: Page, path: str) -> None:
    coloured.goto(path)
    assert violations(coloured) == []


@pytest.mark.parametrize("sample", ["Capstan bar", "For the trainees", "Forearm in the winch"])
def test_sketch_pages_have_no_axe_violation(coloured: Page, sample: str) -> None:
    Sketch(coloured).open_sample(sample)
    coloured.wait_for_load_state("networkidle")
    assert violations(coloured) == []


def test_notes_put_away_have_no_axe_violation(page: Page) -> None:
    """By keyboard; the list is measured unfolded, with its buttons."""
    Sketch(page).open_sample("Capstan bar")
    page.wait_for_load_state("networkidle")
    note = page.locator("#warning-list .note-away").first
    note.focus()
    page.keyboard.press("Enter")
    page.locator("#noted > summary").click()
    expect(page.locator("#noted-list").get_by_role("button", name="Bring back").first).to_be_visible()
    assert violations(page) == []


@pytest.mark.parametrize("width", [768, 1024, 1440, 1920])
def test_nothing_is_wider_than_the_window(page: Page, width: int) -> None:
    page.set_viewport_size({"width": width, "height": 900})
    Sketch(page).open_sample("Forearm in the winch")
    assert page.evaluate("document.documentElement.scrollWidth") <= width


@pytest.mark.parametrize("width", [768, 1440])
def test_targets_in_the_drawing_are_24_px(page: Page, width: int) -> None:
    """WCAG 2.2, 2.5.8: axe does not measure inside SVG. Smaller targets need their centres 24 px apart."""
    page.set_viewport_size({"width": width, "height": 1000})
    Sketch(page).open_sample("Capstan bar")
    boxes = page.locator("#board .handle").evaluate_all(
        """handles => handles.filter(h => h.getAttribute('role')).map(h => {
             const hit = h.querySelector('[pointer-events=all]') || h;
             const box = hit.getBoundingClientRect();
             // the margin about it answers as well, and a box leaves strokes out
             const margin = hit.getAttribute('stroke-width') * hit.getScreenCTM().a;
             return [h.id, box.width + margin, box.height + margin];
           })"""
    )
    assert boxes
    assert [box for box in boxes if min(box[1], box[2]) < 24] == []
