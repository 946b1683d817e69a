"""A fracture plane turned about the shaft: by the grip in the face view, by keys, by typing; and a turned lag screw."""

import math

import pytest
from playwright.sync_api import Page, expect

from app.case.planes import apparent_leans
from tests.browser.sketching import Sketch

pytestmark = pytest.mark.browser
OBLIQUE = "Capstan bar"


def seen(sketch: Sketch) -> tuple[float, float]:
    """What profile and face view show of the first line, degrees."""
    line = sketch.exported()["constructs"][0]["fracture"]["lines"][0]
    return apparent_leans(line["obliquity_deg"], line.get("turn_deg", 0))


def test_the_grip_in_the_face_view_leans_it_there_and_leaves_the_profile(page: Page) -> None:
    sketch = Sketch(page).open_sample(OBLIQUE)
    profile, face = seen(sketch)
    assert face == 0
    grip = page.locator("#turn-0")
    sketch.drag(grip, -6 * sketch.mm_in_px())
    shown = seen(sketch)
    assert shown[0] == pytest.approx(profile, abs=0.1)
    assert shown[1] > 5
    value = float(grip.get_attribute("data-value") or "nan")
    assert value == pytest.approx(shown[1], abs=0.1)
    # what is drawn is what the case says: the two ends of the near trace lie where the plane meets the bone's edges
    turned = sketch.exported()["constructs"][0]["fracture"]["lines"][0]
    slope = math.tan(math.radians(turned["obliquity_deg"])) * math.sin(math.radians(turned["turn_deg"]))
    assert math.degrees(math.atan(slope)) == pytest.approx(shown[1], abs=1e-6)


def test_keys_and_fields_turn_it_too(page: Page) -> None:
    sketch = Sketch(page).open_sample(OBLIQUE)
    grip, version = page.locator("#turn-0"), sketch.version
    grip.focus()
    page.keyboard.press("ArrowUp")
    sketch.written_after(version)
    assert seen(sketch)[1] == pytest.approx(1, abs=0.1)
    version = sketch.version
    field = page.get_by_label("Turned about the shaft")
    field.fill("60")
    field.press("Enter")
    sketch.written_after(version)
    assert sketch.exported()["constructs"][0]["fracture"]["lines"][0]["turn_deg"] == 60
    expect(page.locator("#status")).to_contain_text("Turn 60°")
    version = sketch.version
    page.locator("[data-history='undo']").click()
    sketch.written_after(version)
    assert seen(sketch)[1] == pytest.approx(1, abs=0.1)


def test_a_line_is_said_to_wind_by_keys_alone_and_the_page_says_how_it_is_judged(page: Page) -> None:
    sketch = Sketch(page).open_sample(OBLIQUE)
    strokes, version = page.locator("#board #line-0 path.fracture").count(), sketch.version
    course = page.get_by_label("Course")
    expect(course).to_have_value("")
    course.focus()
    for key in ("Space", "ArrowDown", "Enter"):
        page.keyboard.press(key)
    sketch.written_after(version)
    assert sketch.exported()["constructs"][0]["fracture"]["lines"][0]["spiral"] == "right"
    expect(page.locator("#status")).to_contain_text("Spiral, winding to the right")
    expect(page.locator("#board #line-0 path.fracture")).to_have_count(strokes + 2)
    expect(page.get_by_text("the plane nearest to it", exact=True)).to_be_visible()
    version = sketch.version
    page.locator("[data-history='undo']").click()
    sketch.written_after(version)
    expect(page.locator("#board #line-0 path.fracture")).to_have_count(strokes)
