"""The workbench: whatever a hand changes is in sight while it changes it, at every size."""

import random
import re
import time
from collections.abc import Callable, Iterator
from typing import Any

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.browser.conftest import PATIENCE_MS, Watch
from tests.browser.sketching import SAMPLES, Sketch

pytestmark = pytest.mark.browser
CROWDED, TWO_BONES = "For the trainees", "Forearm in the winch"
TOGETHER = (
    "#sketch", "#panel-readings", "#panel-summary", "#warning-counts", "#status", "#saved",
    "#warning-list > li:nth-child(1)", "#warning-list > li:nth-child(2)", "#warning-list > li:nth-child(3)",
)  # fmt: skip
IN_SIGHT = """names => names.filter(name => {
  const part = document.querySelector(name), box = part.getBoundingClientRect();
  let [left, top, right, bottom] = [0, 0, innerWidth, innerHeight];
  for (let host = part.parentElement; host; host = host.parentElement) {
    const style = getComputedStyle(host);
    if (style.overflowY === "visible" || style.display === "contents") continue;
    const around = host.getBoundingClientRect();
    [left, top] = [Math.max(left, around.left), Math.max(top, around.top)];
    [right, bottom] = [Math.min(right, around.right), Math.min(bottom, around.bottom)];
  }
  const half = 0.5;
  return box.left < left - half || box.top < top - half || box.right > right + half || box.bottom > bottom + half;
})"""


@pytest.fixture
def opened(browser: Browser, base_url: str) -> Iterator[Callable[..., Page]]:
    contexts = []

    def open_page(width: int, height: int, **more: Any) -> Page:
        context = browser.new_context(base_url=base_url, viewport={"width": width, "height": height}, **more)
        context.set_default_timeout(PATIENCE_MS)
        contexts.append((context, Watch(context, base_url)))
        contexts[-1][1].expected.append("412 (Precondition Failed)")  # edits of two hands meet
        return context.new_page()

    yield open_page
    for context, watching in contexts:
        assert watching.wrong == []
        context.close()


@pytest.mark.parametrize("size", [(1440, 900), (1024, 768)], ids=str)
def test_while_the_fracture_is_dragged_all_that_it_changes_is_in_sight(
    opened: Callable[..., Page], size: tuple[int, int]
) -> None:
    page = opened(*size)
    sketch = Sketch(page).open_sample(CROWDED)
    sketch.drag(page.locator("#line-0"), 20, steps=5, release=False)
    expect(page.locator("#board.dragging")).to_have_count(1)
    assert page.evaluate(IN_SIGHT, list(TOGETHER)) == []
    expect(page.locator("#board.close")).to_have_count(0)  # else the drawing would be higher than its room
    page.mouse.up()


SIZES = [(1920, 1080), (1440, 900), (1024, 768), (820, 1180), (390, 844), (844, 390), (320, 640)]


@pytest.mark.parametrize("size", SIZES, ids=str)
def test_text_can_be_read_and_nothing_scrolls_sideways(opened: Callable[..., Page], size: tuple[int, int]) -> None:
    page = opened(*size)
    for title in (CROWDED, TWO_BONES):
        Sketch(page).open_sample(title)
        drawn = page.evaluate(
            "(svg => Number(svg.getAttribute('font-size')) * svg.getScreenCTM().a)(document.querySelector('#sketch'))"
        )
        assert drawn >= 10.95
        assert page.evaluate("document.documentElement.scrollWidth") <= size[0]
        small = page.evaluate(
            """[...document.querySelectorAll("body *")].filter(e => e.offsetParent && !e.closest("svg, .unseen")
               && [...e.childNodes].some(n => n.nodeType === 3 && n.data.trim())
               && parseFloat(getComputedStyle(e).fontSize) < 11).map(e => e.className || e.tagName)"""
        )
        assert small == []


@pytest.mark.parametrize("size", [(1440, 900), (390, 844)], ids=str)
def test_panels_are_one_tap_away_and_remembered_and_the_board_stays(
    opened: Callable[..., Page], size: tuple[int, int]
) -> None:
    page = opened(*size)
    sketch = Sketch(page).open_sample(CROWDED)
    for name in ("set-up", "screws", "order", "mechanics", "what-ifs", "this-case"):
        page.locator(f"#to-{name}").click()
        expect(page.locator(f"#{name} > h2")).to_be_in_viewport()
        expect(page.locator("#face")).to_be_in_viewport(ratio=0.9)
    page.locator("#to-order").click()
    page.reload()
    sketch.settled()
    assert page.locator("#to-order").get_attribute("aria-current") == "true"
    expect(page.locator("#order > h2")).to_be_in_viewport()
    page.keyboard.press("3")
    expect(page.locator("#screws > h2")).to_be_in_viewport()


@pytest.mark.parametrize("title", SAMPLES.values())
def test_a_mark_opens_its_warning_and_changes_nothing(opened: Callable[..., Page], title: str) -> None:
    page = opened(1440, 900)
    sketch = Sketch(page).open_sample(title)
    version = sketch.version
    flags = page.locator("#board [data-flag]")
    for n in range(flags.count()):
        part = flags.nth(n).get_attribute("data-flag")
        for told in page.locator("#warning-list details[open] > summary").all():
            told.click()
        flags.nth(n).locator(".hit").click()
        told_of = page.locator(f"#warning-list > [data-parts~='{part}']").first
        expect(told_of.locator("details[open]")).to_have_count(1)
        expect(told_of).to_be_in_viewport()
        expect(told_of).to_have_class(re.compile("marked"))
    assert sketch.version == version


def test_rapid_taps_all_count_and_equal_edits_make_one_revision(opened: Callable[..., Page]) -> None:
    page = opened(1440, 900)
    sketch = Sketch(page).open_sample(CROWDED)
    version, roles = sketch.version, (sketch.hole(7).get_attribute("data-roles") or "").split()
    start = roles.index(str(sketch.role(7)))

    def late(route: Any) -> None:
        time.sleep(0.2)
        route.continue_()

    page.route("**/edits", late)
    hole = sketch.middle(sketch.hole(7))
    for _ in range(3):
        page.mouse.click(*hole, delay=5)
    sketch.expect_role(7, roles[(start + 3) % len(roles)])
    expect(page.locator("#saved")).to_have_attribute("data-state", "saved")
    assert sketch.version == version + 3
    page.unroute("**/edits")
    for _ in range(25):
        sketch.hole(7).press("0")
    sketch.expect_role(7, "empty")
    expect(page.locator("#saved")).to_have_attribute("data-state", "saved")
    assert sketch.version <= version + 4


def test_on_a_phone_two_fingers_look_closer_and_one_hand_works(opened: Callable[..., Page]) -> None:
    """Zoom in, drag the fracture 10 mm, tap hole 3 twice, take back the last."""
    page = opened(390, 844, has_touch=True, is_mobile=True)
    sketch = Sketch(page).open_sample(CROWDED)
    wire = page.context.new_cdp_session(page)

    def send(kind: str, *points: tuple[float, float]) -> None:
        touches = [{"x": x, "y": y, "id": n} for n, (x, y) in enumerate(points)]
        wire.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": touches})

    def shown_mm() -> float:
        start, end = (page.locator("#sketch").get_attribute("data-view") or "0,0").split(",")
        return float(end) - float(start)

    def centre(name: str) -> tuple[float, float]:
        box = page.locator(name).bounding_box()
        assert box is not None
        return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2

    before = shown_mm()
    x, _ = centre("#line-0 .knob")
    _, y = centre("#board")
    send("touchStart", (x - 30, y), (x + 30, y))
    for step in range(1, 9):
        send("touchMove", (x - 30 - 6 * step, y), (x + 30 + 6 * step, y))
    send("touchEnd")
    _until(lambda: shown_mm() < before * 0.7)
    page.wait_for_timeout(400)
    per_mm = sketch.mm_in_px()
    at = float(page.locator("#line-0").get_attribute("data-value") or 0)
    x, y = centre("#line-0 .knob")
    send("touchStart", (x, y))
    for step in range(1, 11):
        send("touchMove", (x + step * per_mm, y))
    send("touchEnd")
    sketch.written_after(1)
    _until(lambda: abs(float(page.locator("#line-0").get_attribute("data-value") or 0) - at - 10) <= 1.01)
    role = sketch.role(3)
    version = sketch.version
    for _ in range(2):
        page.touchscreen.tap(*centre("#hole-3 > .hit"))
    _until(lambda: sketch.version == version + 2)
    assert sketch.role(3) != role
    page.locator("#undo").tap()
    _until(lambda: sketch.version == version + 3)


def _until(true: Callable[[], bool], seconds: float = 6.0) -> None:
    end = time.monotonic() + seconds
    while not true():
        assert time.monotonic() < end, "it never came true"
        time.sleep(0.05)


def test_two_windows_show_the_same_newest_revision(opened: Callable[..., Page]) -> None:
    one, other = opened(1440, 900), opened(1440, 900)
    first = Sketch(one).open_sample(CROWDED)
    second = Sketch(other).open(f"/cases/{first.case_id}")
    chance = random.Random(7)
    for _ in range(20):
        for sketch in (first, second):
            number = chance.randrange(1, 9)
            sketch.hole(number).focus()
            sketch.page.keyboard.press(chance.choice("ne0"))
    for page in (one, other):
        expect(page.locator("#saved")).to_have_attribute("data-state", re.compile("saved|elsewhere"))

    def kept() -> dict[str, Any]:
        found: dict[str, Any] = one.request.get(f"/api/v1/cases/{first.case_id}").json()
        return found

    def shown(sketch: Sketch) -> tuple[int, list[str | None]]:
        return sketch.version, [sketch.role(n) for n in range(1, 9)]

    stored = kept()
    wanted = stored["version"], [hole["role"] for hole in stored["case"]["constructs"][0]["holes"]]
    _until(lambda: shown(first) == wanted and shown(second) == wanted, 3)  # 0.1 to 0.2 s on an idle machine
    assert kept() == stored


def test_what_another_window_drags_is_seen_here_and_goes_back_with_it(opened: Callable[..., Page]) -> None:
    one, other = opened(1440, 900), opened(1440, 900)
    first = Sketch(one).open_sample(CROWDED)
    Sketch(other).open(f"/cases/{first.case_id}")
    place = other.locator("#line-0")
    stood = place.get_attribute("data-value")
    first.drag(one.locator("#line-0"), 60, steps=8, release=False)
    expect(place).not_to_have_attribute("data-value", str(stood))
    expect(other.locator("#saved")).to_have_attribute("data-state", "elsewhere")
    one.keyboard.press("Escape")
    expect(place).to_have_attribute("data-value", str(stood))
    one.mouse.up()


def test_a_bone_is_added_by_its_button_and_by_no_arrow_key(opened: Callable[..., Page]) -> None:
    page = opened(1440, 900)
    sketch = Sketch(page).open_sample(CROWDED)
    version = sketch.version
    choice = page.get_by_label("Bone to add")
    choice.focus()
    page.keyboard.press("ArrowDown")
    page.wait_for_timeout(300)
    assert sketch.version == version
    choice.select_option("ulna")
    page.get_by_role("button", name="Add", exact=True).click()
    sketch.written_after(version)
    expect(page.locator("#bones nav a")).to_have_count(2)


def test_the_picture_goes_to_the_clipboard(opened: Callable[..., Page]) -> None:
    page = opened(1440, 900, permissions=["clipboard-read", "clipboard-write"])
    Sketch(page).open_sample(CROWDED)
    page.get_by_role("button", name="Copy picture").click()
    expect(page.locator("#status")).to_have_text("The picture is on the clipboard.", timeout=15_000)
    kinds = page.evaluate("navigator.clipboard.read().then(items => items.flatMap(item => item.types))")
    assert kinds == ["image/png"]


@pytest.mark.parametrize("typed", ["130,5", "130.5"])
def test_a_number_takes_a_comma_or_a_point(opened: Callable[..., Page], typed: str) -> None:
    page = opened(1440, 900)
    sketch = Sketch(page).open_sample(CROWDED)
    version = sketch.version
    field = page.get_by_label("Position", exact=True)
    field.fill(typed)
    field.press("Enter")
    sketch.written_after(version)
    expect(field).to_have_value("130.5")
    field.fill("1O0")
    field.press("Tab")
    expect(page.locator("#status")).to_contain_text("takes a number from")
    expect(field).to_have_value("130.5")


def test_a_fast_drag_past_the_bones_end_stops_there_and_end_and_home_go_as_far(opened: Callable[..., Page]) -> None:
    page = opened(1440, 900)
    sketch = Sketch(page).open_sample("Slip on the ice")
    sketch.drag(page.locator("#line-0"), 2000, steps=2)

    def place() -> float:
        return float(sketch.exported()["constructs"][0]["fracture"]["lines"][0]["position_mm"])

    farthest = place()
    assert farthest > 280
    expect(page.locator("#line-0")).to_have_attribute("data-max", f"{farthest:g}")
    for key, there in (("Home", lambda: place() < 70), ("End", lambda: place() == farthest)):
        before = sketch.version
        page.locator("#line-0").press(key)
        sketch.written_after(before)
        assert there()
    lean = page.locator("#lean-0")
    before = sketch.version
    lean.press("End")  # the bone's end is in the way, which only the server knows
    expect(page.locator("#status")).to_contain_text("as far as it goes")
    expect(page.locator("#board.dragging")).to_have_count(0)
    assert sketch.version == before
    page.locator("#line-0").press("Shift+ArrowLeft")
    sketch.written_after(before)
    lean.press("End")
    sketch.written_after(before + 1)
    expect(page.locator("#status")).to_contain_text("as far as it goes")
    assert 62 < float(lean.get_attribute("data-value") or 0) < 75


def test_another_bone_keeps_what_it_can_and_says_what_it_took(opened: Callable[..., Page]) -> None:
    page = opened(1440, 900)
    sketch = Sketch(page).open_sample("Hatch cover")
    before = sketch.exported()["constructs"][0]
    page.keyboard.press("2")
    page.locator("#c-bone-name").select_option("ulna")
    sketch.written_after(1)
    after = sketch.exported()["constructs"][0]
    assert after["bone"]["name"] == "ulna"
    assert (after["holes"], after["plate"]["prebend_mm"]) == (before["holes"], before["plate"]["prebend_mm"])
    expect(page.locator("#status")).to_contain_text("Bone: ulna")
    page.locator("#c-bone-name").select_option("femur")
    sketch.written_after(2)
    expect(page.locator("#status")).to_contain_text("not kept: the plate, screws")
    page.keyboard.press("Control+z")
    sketch.written_after(3)
    assert sketch.exported()["constructs"][0] == after


def test_a_code_of_the_menu_draws_its_pattern(opened: Callable[..., Page]) -> None:
    page = opened(1440, 900)
    sketch = Sketch(page).open_sample("Hatch cover")
    page.keyboard.press("2")
    page.locator("#c-fracture-code").select_option("2R2C2")
    sketch.written_after(1)
    fracture = sketch.exported()["constructs"][0]["fracture"]
    assert (fracture["code"], len(fracture["lines"])) == ("2R2C2", 2)
    expect(page.locator("#status")).to_contain_text("Draw 2R2C2")
    expect(page.locator("#c-fracture-code")).to_have_value("2R2C2")


def test_four_hints_are_ticked_off_and_gone_for_good(opened: Callable[..., Page]) -> None:
    page = opened(1440, 900)
    sketch = Sketch(page).open_sample(CROWDED)
    hints = page.locator("#hints")
    expect(hints).to_be_visible()
    sketch.drag(page.locator("#line-0"), 10)
    before = sketch.version
    sketch.hole(2).click()
    sketch.written_after(before)
    expect(hints.locator(".done")).to_have_count(2)
    page.locator("#warning-list summary").first.click()
    page.locator("#step-on").click()
    expect(hints).to_be_hidden()
    page.reload()
    sketch.settled()
    expect(hints).to_be_hidden()


def test_hints_are_put_away_and_letters_explained(opened: Callable[..., Page]) -> None:
    page = opened(390, 844, has_touch=True)
    Sketch(page).open_sample(CROWDED)
    expect(page.locator("#hints li:visible")).to_have_count(1)
    page.locator("#hints-away").tap()
    expect(page.locator("#hints")).to_be_hidden()
    page.locator("#signs-button").tap()
    expect(page.locator("#signs")).to_be_visible()
    expect(page.locator("#sign-locking-1")).to_contain_text("unicortical")
    page.keyboard.press("Escape")
    page.keyboard.press("s")
    expect(page.locator("#signs")).to_be_visible()


# Step numbers, loads and the table of screws print as text.
PRINTED = """() => [...document.querySelectorAll("button, select, .tabs, .hints, .stepper")].filter(part => {
  const box = part.getBoundingClientRect();
  return box.width > 0 && box.height > 0 && !part.closest("#panel-screws, .loads, .step-number");
}).map(part => part.id || part.textContent.trim().slice(0, 30))"""


def test_on_paper_there_is_nothing_to_press_and_ink_is_dark(opened: Callable[..., Page]) -> None:
    page = opened(1440, 900, color_scheme="dark")
    case = f"/cases/{Sketch(page).open_sample(CROWDED).case_id}"
    page.emulate_media(media="print")
    for address in (case, f"{case}/compare", f"{case}/conference"):
        page.goto(address)
        assert page.evaluate(PRINTED) == [], address
        ink = page.evaluate(
            """() => {
              const probe = document.body.appendChild(document.createElement("p"));
              probe.style.setProperty("color", "var(--ink)");
              probe.style.setProperty("background", "var(--paper)");
              const style = getComputedStyle(probe);
              return [style.color, style.backgroundColor];
            }"""
        )
        assert ink == ["rgb(0, 0, 0)", "rgb(255, 255, 255)"], address


def test_an_arrow_key_on_a_closed_list_edits_nothing(opened: Callable[..., Page]) -> None:
    page = opened(1440, 900)
    sketch = Sketch(page).open_sample(CROWDED)
    quality = page.locator("#c-bone-quality")
    quality.focus()
    page.keyboard.press("ArrowDown")  # opens it
    page.wait_for_timeout(300)
    assert sketch.version == 1
    page.keyboard.press("ArrowDown")
    page.keyboard.press("ArrowDown")
    page.keyboard.press("Enter")
    sketch.written_after(1)
    assert sketch.version == 2
    assert sketch.exported()["bone_quality"] == "poor"


def test_undo_calls_an_edit_as_its_button_did(opened: Callable[..., Page]) -> None:
    page = opened(1440, 900)
    sketch = Sketch(page).open_sample(CROWDED)
    remedy = page.locator("#warning-list button.remedy").first
    words = remedy.inner_text()
    remedy.click()
    sketch.written_after(1)
    expect(page.locator("#undo .what")).to_have_text(f": {words}")
    expect(page.locator("#status")).to_contain_text(words)
    page.locator("#c-line-add").click()
    sketch.written_after(2)
    expect(page.locator("#undo .what")).to_have_text(": Add a fracture line")
