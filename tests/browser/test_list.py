"""The first page in a browser: the list follows what is typed, a new case takes few taps, small screens, long words."""

import httpx
import pytest
from playwright.sync_api import Browser, Page, expect

from tests.browser.sketching import Sketch
from tests.browser.test_pages import violations
from tests.cases import humerus

pytestmark = pytest.mark.browser
WIDE = "W" * 120


@pytest.fixture(scope="module", autouse=True)
def filled(base_url: str) -> list[str]:
    made = []
    for number in range(25):
        title = WIDE if number == 24 else f"Listed a{number:02d}"
        made.append(httpx.post(f"{base_url}/api/v1/cases", json=humerus(title=title)).raise_for_status().json()["id"])
    return made


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_no_axe_violation_with_the_card_open_and_cases_listed(page: Page, scheme: str) -> None:
    page.emulate_media(color_scheme=scheme)  # type: ignore[arg-type]
    page.goto("/")
    page.locator("#new-case > summary").click()
    page.get_by_role("radio", name="Tibia").check()
    page.get_by_role("radio", name="Oblique").check()
    expect(page.locator("#what-fits")).to_have_text("compression or protection")
    assert violations(page) == []


def test_the_list_follows_what_is_typed_and_keeps_the_hand_where_it_is(page: Page) -> None:
    page.goto("/")
    expect(page.locator(".case-line")).to_have_count(20)
    words = page.get_by_label("Words in title")
    words.focus()
    page.keyboard.type("listed a1")
    expect(page.locator("#own-count")).to_have_text("10 cases found")
    expect(page.locator(".case-line")).to_have_count(10)
    expect(words).to_be_focused()
    assert page.url.endswith("?q=listed+a1")
    page.get_by_label("Order").select_option("title")
    expect(page.locator(".case-name").first).to_have_text("Listed a10")
    page.reload()
    expect(words).to_have_value("listed a1")
    expect(page.locator(".case-name").first).to_have_text("Listed a10")
    words.fill("nothing like it")
    expect(page.locator("#own-count")).to_have_text("No case has all of that.")
    page.get_by_role("link", name="All cases").click()
    expect(page.locator(".case-line")).to_have_count(20)


def test_the_next_page_and_a_case_by_keyboard(page: Page) -> None:
    page.goto("/?q=listed&sort=title")
    page.get_by_role("link", name="Page after").focus()
    page.keyboard.press("Enter")
    expect(page.locator(".case-line")).to_have_count(4)
    page.locator(".case-name").first.focus()
    page.keyboard.press("Enter")
    page.wait_for_url("**/cases/*")
    expect(page.locator("#case-title")).to_have_text("Listed a20")


@pytest.mark.parametrize(
    ("bone", "pattern"), [("Humerus", "Transverse"), ("Tibia", "Spiral"), ("Clavicle", "Segmental")]
)
def test_a_new_case_is_laid_out_within_six_clicks(page: Page, bone: str, pattern: str) -> None:
    page.add_init_script(
        "addEventListener('click', (e) => { if (e.isTrusted && e.detail) name = String(Number(name || 0) + 1) }, true)"
    )
    page.goto("/")
    page.evaluate("name = ''")
    page.locator("#new-case > summary").click()
    page.locator(".tile", has_text=bone).click()
    page.locator(".tile", has_text="Left").click()
    page.locator(".tile").filter(has=page.get_by_role("radio", name=pattern, exact=True)).click()
    page.get_by_role("button", name="Begin").click()
    page.wait_for_url("**/cases/*")
    # A click on a label is told of its field too, with detail 0 or 1 by browser: at most two for each of three tiles.
    assert 5 <= int(page.evaluate("name")) <= 8
    Sketch(page).opened()
    expect(page.locator("#status")).to_contain_text("Laid out without a stop or caution")
    expect(page.locator("#case-title")).to_contain_text(f"Left {bone.lower()}, {pattern.lower()}")
    for level in ("stop", "caution"):
        expect(page.locator(f"#panel-warnings .count.level-{level}").first).to_contain_text("0")


def test_a_new_case_by_keyboard_alone(page: Page) -> None:
    page.goto("/")
    page.locator("#new-case > summary").focus()
    page.keyboard.press("Enter")
    page.keyboard.press("Tab")
    page.keyboard.press("ArrowDown")  # the second bone
    page.keyboard.press("Tab")
    page.keyboard.press("Tab")
    page.keyboard.press("Space")
    for _ in range(3):
        page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    page.wait_for_url("**/cases/*")
    expect(page.locator("#case-title")).to_have_text("Humerus, spiral shaft fracture")


@pytest.mark.parametrize("width", [320, 390, 820])
def test_one_long_word_stays_inside_every_page(page: Page, filled: list[str], width: int) -> None:
    page.set_viewport_size({"width": width, "height": 800})
    case = filled[-1]
    for path in (
        "/",
        f"/cases/{case}",
        f"/cases/{case}/plan",
        f"/cases/{case}/tools",
        f"/cases/{case}/compare",
        f"/cases/{case}/conference",
    ):
        page.goto(path)
        if path == "/":
            page.locator("#new-case > summary").click()
        assert page.evaluate("document.documentElement.scrollWidth") <= width, path


def test_text_of_twice_the_size_has_room(page: Page) -> None:
    """WCAG 2.2, 1.4.4: nothing is cut off, and no word is set letter under letter."""
    page.set_viewport_size({"width": 1280, "height": 900})
    page.goto("/")
    page.locator("#new-case > summary").click()
    page.evaluate("document.documentElement.style.fontSize = '200%'")
    assert page.evaluate("document.documentElement.scrollWidth") <= 1280
    words = ".tile:not([hidden]) .tile-words, .case-name, .case-facts"
    wrapped = page.evaluate(
        """(words) => [...document.querySelectorAll(words)].filter((one) => one.checkVisibility())
          .filter((one) => one.offsetWidth < 40 || one.scrollWidth > one.offsetWidth + 1)
          .map((one) => one.textContent)""",
        words,
    )
    assert wrapped == []


def test_targets_suit_a_finger(browser: Browser, base_url: str) -> None:
    """WCAG 2.2, 2.5.5: 44 by 44 CSS pixels."""
    context = browser.new_context(
        base_url=base_url, viewport={"width": 390, "height": 844}, has_touch=True, is_mobile=True
    )
    page = context.new_page()
    page.goto("/")
    page.locator("#new-case > summary").click()
    targets = "a, button, summary, select, input:not([type=radio], [type=hidden]), .tile"
    small = page.evaluate(
        """(targets) => [...document.querySelectorAll(targets)]
          .filter((one) => one.closest("main") && one.checkVisibility())
          .map((one) => ({ html: one.outerHTML.slice(0, 80), box: one.getBoundingClientRect() }))
          .filter(({ box }) => box.height < 43.5 || box.width < 43.5)
          .map(({ html, box }) => `${html} ${box.width} x ${box.height}`)""",
        targets,
    )
    context.close()
    assert small == []
