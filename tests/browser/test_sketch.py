"""The main job in real Chromium: drag, tap, keys, remedy, undo, reload, and figures equal to the command line's."""

import re

import pytest
from playwright.sync_api import Page, expect

from tests.browser.conftest import Watch
from tests.browser.sketching import Sketch

pytestmark = pytest.mark.browser
HUMERUS = "Capstan bar"
FAULTY = "For the trainees"


@pytest.fixture
def sketch(page: Page) -> Sketch:
    return Sketch(page).open_sample(HUMERUS)


def test_one_click_from_the_list_to_a_sketch(page: Page) -> None:
    sketch = Sketch(page).choose_sample(HUMERUS)
    expect(sketch.page.get_by_role("heading", level=1)).to_contain_text("Capstan bar")
    expect(sketch.page.locator("#panel-warnings")).to_contain_text(re.compile("stop"))


def test_dragging_the_fracture_past_a_hole_brings_and_takes_its_warning(sketch: Sketch) -> None:
    """Hole 4 holds a neutral screw; with the line through it the screw holds both fragments apart."""
    page = sketch.page
    expect(sketch.warnings("crosses-fracture", "h4")).to_have_count(0)
    pitch = 18 * sketch.mm_in_px()
    x, y = sketch.middle(sketch.grip("move_fracture"))
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x - pitch, y, steps=15)
    expect(sketch.warnings("crosses-fracture", "h4")).to_have_count(1)
    assert sketch.version == 1, "a preview writes nothing"
    page.mouse.move(x - 0.2 * pitch, y, steps=15)
    expect(sketch.warnings("crosses-fracture", "h4")).to_have_count(0)
    page.mouse.move(x - pitch, y, steps=15)
    sketch.released()
    expect(sketch.warnings("crosses-fracture", "h4")).to_have_count(1)
    assert sketch.exported()["constructs"][0]["fracture"]["lines"][0]["position_mm"] == pytest.approx(134, abs=2)


def test_a_lag_screw_is_looked_for_and_added_from_the_keyboard(sketch: Sketch) -> None:
    """One button, which keeps the focus: it looks for a place, then adds the screw, and would look for the next."""
    button = sketch.page.locator("#c-lag-add")
    lags = len(sketch.exported()["constructs"][0].get("lag_screws", []))
    button.focus()
    expect(button).to_have_text(re.compile("^Look for a place"))
    sketch.page.keyboard.press("Enter")
    expect(button).to_have_text(re.compile("^Add "))
    expect(button).to_be_focused()
    expect(sketch.page.locator("#status")).to_contain_text("There is a place")
    sketch.page.keyboard.press("Enter")
    sketch.written_after(1)
    assert len(sketch.exported()["constructs"][0]["lag_screws"]) == lags + 1
    expect(button).to_have_text(re.compile("^Look for a place"))
    expect(button).to_be_focused()
    expect(sketch.page.locator("#lag-add-line [data-edit]")).to_have_count(0)


def test_a_place_that_was_found_is_forgotten_with_the_next_edit(sketch: Sketch) -> None:
    sketch.page.locator("#c-lag-add").click()
    expect(sketch.page.locator("#lag-add-line [data-edit]")).to_have_count(1)
    sketch.hole(3).click()
    sketch.written_after(1)
    expect(sketch.page.locator("#lag-add-line [data-edit]")).to_have_count(0)
    expect(sketch.page.locator("#lag-add-line [data-ask]")).to_have_count(1)


def test_why_there_is_no_place_is_said_where_the_button_was(sketch: Sketch) -> None:
    """Until the fracture is full of them; whoever asks by the keyboard still stands where the button was."""
    obliquity = sketch.page.locator("#c-line-0-obliquity")
    obliquity.fill("0")
    obliquity.press("Enter")
    sketch.written_after(1)
    for version in range(2, 9):
        button = sketch.page.locator("#c-lag-add")
        button.press("Enter")
        line = sketch.page.locator("#lag-add-line")
        expect(line.locator("[data-ask]")).to_have_count(0)
        if line.locator("[data-edit]").count() == 0:
            break
        button.press("Enter")
        sketch.written_after(version)
        expect(line.locator("[data-edit]")).to_have_count(0)
    expect(line).to_contain_text("No place")
    expect(line.locator("button")).to_have_count(0)
    assert sketch.page.evaluate("document.activeElement.closest('#panel-screws') !== null")


def test_summary_figures_equal_the_command_lines(sketch: Sketch) -> None:
    sketch.drag(sketch.grip("move_fracture"), 9 * sketch.mm_in_px())
    one = sketch.assessed()["constructs"][0]
    for fragment in one["fragments"]:
        name = fragment["name"]
        assert sketch.figure(f"screws-{name}") == str(fragment["screws"])
        assert sketch.figure(f"cortices-{name}") == str(fragment["cortices"])
        assert sketch.figure(f"spread-{name}") == f"{fragment['spread_mm']:.1f}"
        assert sketch.figure(f"nearest-{name}") == f"{fragment['nearest_screw_mm']:.1f}"
    assert sketch.figure("bridging-span") == f"{one['bridging_span_mm']:.1f} mm"
    bent = one["contour"]["bent_deg"]
    assert sketch.figure("plate-length") == f"{one['plate_length_mm']:.1f} mm (bends {bent:.1f}°)"
    assert sketch.figure("plate-span-ratio") == f"{one['plate_span_ratio']:.1f}"
    assert sketch.figure("screw-density").startswith(f"{one['screw_density']:.2f}")
    shown = sketch.page.locator("#warning-list > li").evaluate_all("list => list.map(li => li.dataset.rule)")
    assert sorted(shown) == sorted(w["rule"] for w in one["warnings"] + sketch.assessed()["warnings"])


def test_every_role_by_mouse(sketch: Sketch) -> None:
    roles = (sketch.hole(3).get_attribute("data-roles") or "").split()
    assert roles == ["empty", "neutral", "eccentric", "lag", "locking-2", "locking-1"]
    for role in [*roles[1:], roles[0]]:
        sketch.hole(3).click()
        sketch.expect_role(3, role)
    sketch.hole(3).click(modifiers=["Shift"])
    sketch.expect_role(3, roles[-1])


def test_every_role_by_keyboard(sketch: Sketch) -> None:
    sketch.hole(1).focus()
    sketch.page.keyboard.press("ArrowRight")
    sketch.page.keyboard.press("ArrowRight")
    expect(sketch.hole(3)).to_be_focused()
    for role in ["neutral", "eccentric", "lag", "locking-2", "locking-1", "empty"]:
        sketch.page.keyboard.press("Enter")
        sketch.expect_role(3, role)
        expect(sketch.hole(3)).to_be_focused()
    for letter, role in {"n": "neutral", "e": "eccentric", "l": "lag", "2": "locking-2", "1": "locking-1"}.items():
        sketch.page.keyboard.press(letter)
        sketch.expect_role(3, role)
    sketch.page.keyboard.press("Delete")
    sketch.expect_role(3, "empty")
    sketch.page.keyboard.press("Shift+Enter")
    sketch.expect_role(3, "locking-1")


def test_a_role_from_the_list(sketch: Sketch) -> None:
    sketch.hole(3).click(button="right")
    expect(sketch.page.get_by_role("menu")).to_be_visible()
    sketch.page.get_by_role("menuitemradio", name=re.compile("unicortical", re.I)).click()
    sketch.expect_role(3, "locking-1")


class TestTouch:
    @pytest.fixture
    def context_options(self) -> dict[str, object]:
        return {"viewport": {"width": 1024, "height": 768}, "has_touch": True}

    def test_every_role_by_touch(self, sketch: Sketch) -> None:
        for role in ["neutral", "eccentric", "lag", "locking-2", "locking-1", "empty"]:
            sketch.hole(3).tap()
            sketch.expect_role(3, role)

    def test_a_finger_drags_the_fracture(self, sketch: Sketch) -> None:
        grip = sketch.grip("move_fracture")
        x, y = sketch.middle(grip)
        client = sketch.page.context.new_cdp_session(sketch.page)

        def touch(kind: str, at: float) -> None:
            points = [] if kind == "touchEnd" else [{"x": at, "y": y}]
            client.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})

        before = sketch.version
        touch("touchStart", x)
        for step in range(1, 9):
            touch("touchMove", x + step * 5)
        touch("touchEnd", x + 40)
        sketch.written_after(before)
        assert sketch.exported()["constructs"][0]["fracture"]["lines"][0]["position_mm"] > 155


def test_arrows_nudge_a_focused_handle(sketch: Sketch) -> None:
    grip = sketch.grip("move_fracture")
    start = float(grip.get_attribute("data-value") or 0)
    grip.focus()
    sketch.page.keyboard.press("ArrowRight")
    sketch.page.keyboard.press("Shift+ArrowRight")
    sketch.written_after(1)
    sketch.page.wait_for_timeout(900)
    assert sketch.exported()["constructs"][0]["fracture"]["lines"][0]["position_mm"] == pytest.approx(start + 11)
    expect(sketch.grip("move_fracture")).to_be_focused()


def test_escape_gives_a_drag_back(sketch: Sketch) -> None:
    sketch.drag(sketch.grip("move_fracture"), 60, release=False)
    sketch.page.keyboard.press("Escape")
    sketch.page.mouse.up()
    assert sketch.version == 1
    assert sketch.exported()["constructs"][0]["fracture"]["lines"][0]["position_mm"] == 152


@pytest.mark.parametrize("op", ["set_obliquity", "set_zone", "move_plate"])
def test_every_other_grip_drags(sketch: Sketch, op: str) -> None:
    before = sketch.exported()
    sketch.drag(sketch.grip(op), 26, 0)
    assert sketch.exported() != before


def test_a_remedy_takes_its_warning_away(page: Page) -> None:
    sketch = Sketch(page).open_sample(FAULTY)
    first = page.locator("#warning-list > li").filter(has=page.locator("button.remedy")).first
    key = first.get_attribute("data-key")
    first.locator("button.remedy").click()
    expect(page.locator(f"#warning-list > li[data-key='{key}']")).to_have_count(0)
    assert sketch.version == 2


def test_a_note_is_put_away_by_keyboard_stays_away_and_comes_back(sketch: Sketch) -> None:
    page = sketch.page
    rule = "structures-at-risk"
    count = sketch.warnings(rule).count()
    shown = page.locator("#count-note").inner_text()
    button = sketch.warnings(rule).first.get_by_role("button", name="Noted")
    button.focus()
    page.keyboard.press("Enter")
    expect(sketch.warnings(rule)).to_have_count(0)
    expect(page.locator("#panel-warnings")).to_be_focused()
    expect(page.locator("#noted > summary")).to_have_text(f"Noted ({count})")
    assert int(page.locator("#count-note").inner_text().split()[0]) == int(shown.split()[0]) - count
    page.reload()
    sketch.settled()
    expect(page.locator("#noted-list > li")).to_have_count(count)
    page.keyboard.press("Control+z")
    expect(page.locator("#noted")).to_have_count(0)
    page.keyboard.press("Control+Shift+z")
    page.locator("#noted > summary").click()
    page.locator("#noted-list").get_by_role("button", name="Bring back").first.click()
    expect(sketch.warnings(rule)).to_have_count(count)
    expect(page.locator("#count-note")).to_have_text(shown)


def test_undo_redo_and_reload(sketch: Sketch) -> None:
    sketch.hole(3).click()
    sketch.expect_role(3, "neutral")
    sketch.page.keyboard.press("Control+z")
    sketch.expect_role(3, "empty")
    sketch.page.keyboard.press("Control+Shift+z")
    sketch.expect_role(3, "neutral")
    sketch.page.reload()
    sketch.settled()
    sketch.expect_role(3, "neutral")
    sketch.page.get_by_role("button", name="Undo").click()
    sketch.expect_role(3, "empty")


def test_an_edit_over_a_stale_revision_is_kept(sketch: Sketch, watch: Watch) -> None:
    """Somebody else edits in between: the server answers 412, the page fetches and applies its edit again."""
    watch.expected.append("412")  # the browser itself logs a refused request
    sketch.page.request.post(
        f"/api/v1/cases/{sketch.case_id}/edits",
        data={"construct": 0, "view": None, "edit": {"op": "set_role", "target": 0, "hole": 6, "role": "locking-2"}},
        headers={"If-Match": '"1"'},
    )
    sketch.hole(3).click()
    sketch.expect_role(3, "neutral")
    sketch.expect_role(7, "locking-2")
    roles = [hole["role"] for hole in sketch.exported()["constructs"][0]["holes"]]
    assert (roles[2], roles[6]) == ("neutral", "locking-2")


def test_what_a_removed_screw_cost_is_told(sketch: Sketch) -> None:
    sketch.hole(1).focus()
    sketch.page.keyboard.press("0")
    sketch.expect_role(1, "empty")
    cell = sketch.page.locator("#figure-screws-proximal")
    expect(cell).to_contain_text("4")
    expect(cell).to_contain_text("3")


def test_a_warning_and_its_parts_mark_each_other(page: Page) -> None:
    Sketch(page).open_sample(FAULTY)
    warning = page.locator("#warning-list > li").first
    part = (warning.get_attribute("data-parts") or "").split()[0]
    warning.hover()
    expect(page.locator(f"#board [data-part='{part}'].pointed").first).to_be_attached()
