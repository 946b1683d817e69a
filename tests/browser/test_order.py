"""Order panel and stepper in real Chromium: reorder by keys, buttons and mouse; step; reduced motion; access."""

import json
import re
from typing import Any

import pytest
from playwright.sync_api import BrowserContext, Locator, Page, expect

from app.assess import assess, load_knowledge
from app.case import parse_case
from app.order import State, plan, states
from tests.browser.conftest import Watch
from tests.browser.sketching import Sketch
from tests.browser.test_pages import violations
from tests.papers import leaves

pytestmark = pytest.mark.browser
HUMERUS = "Capstan bar"  # oblique, compressed: hole 4 neutral on the obtuse side, hole 6 eccentric, lag through hole 5
CAUTION = "obtuse-first"


@pytest.fixture
def context_options() -> dict[str, object]:
    return {"viewport": {"width": 1440, "height": 900}, "reduced_motion": "reduce"}


@pytest.fixture
def sketch(page: Page) -> Sketch:
    return Sketch(page).open_sample(HUMERUS)


def order(sketch: Sketch) -> list[str]:
    return (sketch.page.locator("#step-list").get_attribute("data-order") or "").split()


def expect_order(sketch: Sketch, *names: str) -> None:
    expect(sketch.page.locator("#step-list")).to_have_attribute("data-order", re.compile("^" + " ".join(names)))


def row(sketch: Sketch, screw: str) -> Locator:
    return sketch.page.locator(f"#step-list li[data-screw='{screw}']")


def found_states(sketch: Sketch) -> tuple[State, ...]:
    """What the order's own code says of the exported case."""
    case = parse_case(json.dumps(sketch.exported()))
    return states(assess(case, load_knowledge(), mechanics=False).constructs[0].layout)


def test_reordering_by_keyboard_brings_the_warning_and_the_remedy_takes_it_away(sketch: Sketch) -> None:
    page = sketch.page
    first, second, third = order(sketch)[:3]
    expect(sketch.warnings(CAUTION)).to_have_count(0)
    page.locator(f"#down-{first}").focus()
    page.keyboard.press("Alt+ArrowDown")
    expect_order(sketch, second, first, third)
    expect(page.locator(f"#down-{first}")).to_be_focused()
    expect(sketch.warnings(CAUTION)).to_have_count(1)
    expect(row(sketch, second)).to_have_class(re.compile("level-caution"))
    expect(page.locator("#status")).to_contain_text("new caution")
    sketch.warnings(CAUTION).get_by_role("button", name="Use the derived order").click()
    expect_order(sketch, first, second, third)
    expect(sketch.warnings(CAUTION)).to_have_count(0)
    assert sketch.exported()["constructs"][0]["order"] is None


def test_quick_keys_add_up(sketch: Sketch) -> None:
    first, *rest = order(sketch)
    sketch.page.locator(f"#up-{first}").focus()
    for _ in range(3):
        sketch.page.keyboard.press("Alt+ArrowDown")
    expect_order(sketch, *rest[:3], first)
    sketch.page.keyboard.press("Alt+ArrowUp")
    expect_order(sketch, *rest[:2], first)
    assert sketch.exported()["constructs"][0]["order"] == [*rest[:2], first, *rest[2:]]


def test_buttons_move_a_screw_and_undo_brings_it_back(sketch: Sketch) -> None:
    first, second = order(sketch)[:2]
    sketch.page.locator(f"#up-{second}").click()
    expect_order(sketch, second, first)
    sketch.page.locator("#undo").click()
    expect_order(sketch, first, second)
    sketch.page.locator(f"#up-{first}").press("Enter")  # at the end already
    expect_order(sketch, first, second)


def test_reordering_by_mouse_brings_the_warning_and_back_to_the_derived_order(sketch: Sketch) -> None:
    """The lag pulled before the eccentric screw: its travel is lost."""
    page = sketch.page
    first, pull, lag = order(sketch)[:3]
    expect(sketch.warnings("compress-first")).to_have_count(0)
    grip = row(sketch, lag).locator("[data-grip]")
    grip.hover()  # in sight, and nothing above it is still being laid out
    box, goal = grip.bounding_box(), row(sketch, pull).bounding_box()
    assert box is not None
    assert goal is not None
    page.mouse.move(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    page.mouse.down()
    page.mouse.move(box["x"], goal["y"] + 6, steps=10)
    expect(row(sketch, pull)).to_have_class(re.compile("drop-before"))
    page.mouse.up()
    expect_order(sketch, first, lag, pull)
    expect(sketch.warnings("compress-first")).to_have_count(1)
    page.get_by_role("button", name="Back to the derived order").click()
    expect_order(sketch, first, pull, lag)
    expect(sketch.warnings("compress-first")).to_have_count(0)


def test_a_pull_given_up_changes_nothing(sketch: Sketch) -> None:
    page = sketch.page
    grip = row(sketch, order(sketch)[2]).locator("[data-grip]")
    grip.hover()  # in sight, and at rest
    box = grip.bounding_box()
    assert box is not None
    page.mouse.move(box["x"] + 8, box["y"] + 8)
    page.mouse.down()
    page.mouse.move(box["x"] + 8, box["y"] - 150, steps=6)
    page.keyboard.press("Escape")
    page.mouse.up()
    expect(page.locator(".drop-before, .drop-after, .pulled")).to_have_count(0)
    assert sketch.version == 1


def swapped(sketch: Sketch) -> None:
    """The acute side first: the trainee's mistake."""
    first, second = order(sketch)[:2]
    sketch.page.locator(f"#down-{first}").click()
    expect_order(sketch, second, first)


def corner(page: Page, fragment: str) -> list[float]:
    """Where the fragment's group puts the drawing's origin and a point 100 mm along the shaft: mm in the drawing."""
    found: list[float] = page.evaluate(
        """name => {
             const svg = document.querySelector('#sketch');
             const moved = document.querySelector(`#moved-${name}`);
             const to = svg.getScreenCTM().inverse().multiply(moved.getScreenCTM());
             const a = new DOMPoint(0, 0).matrixTransform(to), b = new DOMPoint(100, 0).matrixTransform(to);
             return [a.x, a.y, b.x, b.y];
           }""",
        fragment,
    )
    return found


def test_arrow_keys_step_and_the_drawing_moves_by_the_figures(sketch: Sketch) -> None:
    page = sketch.page
    swapped(sketch)
    found = found_states(sketch)
    assert max(state.slide_mm for state in found) > 0.3
    page.locator("#step-slider").focus()
    for state in found:
        page.keyboard.press("ArrowRight")
        expect(page.locator("#sketch")).to_have_attribute("data-step", str(state.step))
        expect(page.locator("#status")).to_contain_text(state.sentence)
        expect(page.locator("#step-where")).to_have_text(f"step {state.step} of {len(found)}")
        shown = page.locator("#profile [id^='screw-']").evaluate_all("list => list.map(g => g.id.slice(6))")
        assert sorted(shown) == sorted(state.screws)
        for offset in state.offsets:
            x, y, *_ = corner(page, offset.fragment)
            assert (x, -y) == pytest.approx((offset.ds_mm, offset.dy_mm), abs=0.02)
    page.keyboard.press("ArrowLeft")
    expect(page.locator("#sketch")).to_have_attribute("data-step", str(len(found) - 1))


def test_five_times_as_large_is_five_times_as_far(sketch: Sketch) -> None:
    page = sketch.page
    swapped(sketch)
    state = next(state for state in found_states(sketch) if state.slide_mm > 0.3)
    moved = next(offset for offset in state.offsets if offset.dy_mm)
    page.get_by_role("button", name=f"Show step {state.step} in the drawing").click()
    expect(page.locator("#sketch")).to_have_attribute("data-step", str(state.step))
    expect(page.locator("#sketch")).not_to_contain_text("times as large")
    page.get_by_label("Movements ×5").check()
    expect(page.locator("#sketch")).to_contain_text("drawn 5 times as large")
    x, y, *_ = corner(page, moved.fragment)
    assert (x, -y) == pytest.approx((5 * moved.ds_mm, 5 * moved.dy_mm), abs=0.05)


def test_a_scale_chosen_while_a_step_is_on_its_way_counts(sketch: Sketch) -> None:
    page = sketch.page
    page.locator("#step-slider").focus()
    page.evaluate(
        """() => {
             const slider = document.getElementById('step-slider');
             slider.value = '4';
             slider.dispatchEvent(new Event('input', { bubbles: true }));
             document.getElementById('step-times').click();
           }"""
    )
    expect(page.locator("#sketch")).to_have_attribute("data-step", "4")
    expect(page.locator("#sketch")).to_contain_text("drawn 5 times as large")


def test_the_sketch_comes_back(sketch: Sketch) -> None:
    page = sketch.page
    handles = page.locator("#board .handle").count()
    before = page.locator("#sketch").evaluate("svg => svg.outerHTML")
    page.locator("#step-on").click()
    page.locator("#step-on").click()
    expect(page.locator("#sketch")).to_have_attribute("data-step", "2")
    expect(page.locator("#step-list li[aria-current='step']")).to_have_attribute("data-number", "2")
    assert page.locator("#board .handle").count() == 0
    page.keyboard.press("ArrowLeft")
    expect(page.locator("#sketch")).to_have_attribute("data-step", "1")
    page.get_by_role("button", name="Back to the sketch").click()
    expect(page.locator("#board .handle")).to_have_count(handles)
    assert page.locator("#sketch").evaluate("svg => svg.outerHTML") == before
    expect(page.locator("#step-where")).to_have_text("plan")
    expect(page.locator("#step-leave")).to_be_hidden()
    sketch.hole(3).click()
    sketch.expect_role(3, "neutral")
    assert sketch.version == 2


def test_an_edit_while_stepping_leads_back_to_the_sketch(sketch: Sketch) -> None:
    page = sketch.page
    swapped(sketch)
    page.locator("#step-slider").focus()
    page.keyboard.press("End")
    expect(page.locator("#sketch")).to_have_attribute("data-step", re.compile("."))
    sketch.warnings(CAUTION).get_by_role("button", name="Use the derived order").click()
    expect(page.locator("#step-slider")).to_have_value("0")
    sketch.settled()


def test_reduced_motion_is_respected(sketch: Sketch) -> None:
    page = sketch.page
    page.locator("#step-on").click()
    expect(page.locator("#moved-distal")).to_have_count(1)
    assert page.locator("#moved-distal").evaluate("g => getComputedStyle(g).transitionDuration") == "0s"
    page.emulate_media(reduced_motion="no-preference")
    assert page.locator("#moved-distal").evaluate("g => getComputedStyle(g).transitionDuration") != "0s"


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_no_axe_violation(sketch: Sketch, scheme: Any) -> None:
    page = sketch.page
    page.emulate_media(color_scheme=scheme)
    swapped(sketch)
    assert violations(page) == []
    page.get_by_role("button", name="Show step 4 in the drawing").click()
    expect(page.locator("#sketch")).to_have_attribute("data-step", "4")
    assert violations(page) == []
    for name in ("plan", "tools"):
        page.goto(f"/cases/{sketch.case_id}/{name}")
        assert violations(page) == []
        page.go_back()


def test_no_axe_violation_on_paper_with_two_bones(page: Page) -> None:
    sketch = Sketch(page).open_sample("Forearm in the winch")
    path = f"/cases/{sketch.case_id}"
    for name in ("plan", "tools"):
        page.goto(f"{path}/{name}")
        assert violations(page) == []


@pytest.mark.parametrize("width", [768, 1024, 1440, 1920])
def test_nothing_is_wider_than_the_window_and_targets_are_24_px(sketch: Sketch, width: int) -> None:
    """WCAG 2.2, 2.5.8."""
    page, path = sketch.page, f"/cases/{sketch.case_id}"
    page.set_viewport_size({"width": width, "height": 900})
    boxes = page.locator("#stepper button:visible, #stepper input, #panel-order button, [data-grip]").evaluate_all(
        "list => list.map(e => e.closest('label') || e).map(e => [e.id, e.getBoundingClientRect()])"
        ".map(([id, box]) => [id, box.width, box.height])"
    )
    assert [box for box in boxes if min(box[1], box[2]) < 24] == []
    for name in ("", "/plan", "/tools"):
        page.goto(path + name)
        assert page.evaluate("document.documentElement.scrollWidth") <= width


@pytest.mark.parametrize("sample", ["Forearm in the winch", "For the trainees"])
def test_the_plan_prints_one_page_for_each_construct_and_one_for_theatre(page: Page, sample: str) -> None:
    """ISO 216 A4 with margins of 10 mm."""
    sketch = Sketch(page).open_sample(sample)
    constructs = len(sketch.exported()["constructs"])
    page.goto(f"/cases/{sketch.case_id}/plan")
    margin = dict.fromkeys(("top", "right", "bottom", "left"), "10mm")
    made = leaves(page.pdf(format="A4", margin=margin))
    assert len(made) == constructs + 1
    assert "Check in theatre" in made[-1].text
    assert "If it goes wrong" in made[-1].text
    assert "Back to the sketch" not in "".join(leaf.text for leaf in made)


@pytest.fixture
def touch(browser: Any, base_url: str) -> Any:
    made: BrowserContext = browser.new_context(
        base_url=base_url, viewport={"width": 820, "height": 1180}, has_touch=True, reduced_motion="reduce"
    )
    watching = Watch(made, base_url)
    yield made.new_page()
    assert watching.wrong == []
    made.close()


def test_reordering_by_touch(touch: Page) -> None:
    sketch = Sketch(touch).open_sample(HUMERUS)
    first, second = order(sketch)[:2]
    grip = row(sketch, second).locator("[data-grip]")
    grip.scroll_into_view_if_needed()
    box, goal = grip.bounding_box(), row(sketch, first).bounding_box()
    assert box is not None
    assert goal is not None
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    wire = touch.context.new_cdp_session(touch)

    def send(kind: str, *points: dict[str, float]) -> None:
        wire.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": list(points)})

    send("touchStart", {"x": x, "y": y})
    for part in range(1, 9):
        send("touchMove", {"x": x, "y": y + (goal["y"] + 5 - y) * part / 8})
    send("touchEnd")
    expect_order(sketch, second, first)


def test_every_step_of_the_plan_is_in_the_panel(sketch: Sketch) -> None:
    case = parse_case(json.dumps(sketch.exported()))
    steps = plan(assess(case, load_knowledge(), mechanics=False).constructs[0].layout)
    expect(sketch.page.locator("#step-list > li")).to_have_count(len(steps))
    for step in steps:
        expect(sketch.page.locator(f"#step-list li[data-number='{step.number}']")).to_contain_text(step.what)
