"""Mechanics on the sketch page: live while dragging, kept by a reload, in step with the drawing's axis."""

import re

import pytest
from playwright.sync_api import Page, expect

from app.mechanics.validation.bench_cases import BENCH_CASES
from tests.browser.conftest import Watch
from tests.browser.sketching import Sketch
from tests.browser.test_pages import violations

pytestmark = pytest.mark.browser
BRIDGED = "Fall from the net loft"


@pytest.fixture
def sketch(page: Page) -> Sketch:
    return Sketch(page).open_sample(BRIDGED)


def load(sketch: Sketch, name: str, value: str) -> None:
    """Type a load, or choose one from a list."""
    field = sketch.page.locator(f"#c-load-{name}")
    if field.evaluate("field => field.tagName") == "SELECT":
        field.select_option(value)
    else:
        field.fill(value)
        field.press("Enter")


def test_drag_moves_the_gauge_before_anything_is_written(sketch: Sketch) -> None:
    mark = sketch.page.locator("#gauge-0-far")
    place, version = mark.get_attribute("data-place"), sketch.version
    curve = sketch.page.locator("#stress path.stress").get_attribute("d")
    sketch.drag(sketch.grip("set_zone"), 60, release=False)
    mark.evaluate("mark => mark.scrollIntoView()")  # out of sight it would wait
    expect(mark).not_to_have_attribute("data-place", place or "")
    expect(sketch.page.locator("#stress path.stress")).not_to_have_attribute("d", curve or "")
    expect(sketch.page.locator("#figure-gauge-0-far")).not_to_be_empty()
    assert sketch.version == version
    sketch.page.keyboard.press("Escape")
    expect(mark).to_have_attribute("data-place", place or "")
    sketch.page.mouse.up()
    assert sketch.version == version


def test_an_edit_tells_before_and_after(sketch: Sketch) -> None:
    before, version = sketch.figure("axial"), sketch.version
    sketch.hole(6).focus()
    sketch.page.keyboard.press("0")
    sketch.written_after(version)
    figure = sketch.page.locator("#figure-axial")
    expect(figure.locator("del")).to_have_text(f"before {before}")
    expect(figure.locator("ins")).to_have_text(f"after {sketch.figure('axial')}")
    expect(sketch.page.locator("#axial-ratio")).to_have_text(re.compile(r"× 0\.\d\d of the layout before"))
    # and, once the hand rests, in how many draws over what nobody knows that holds
    expect(figure.locator(".figure-band")).to_have_text(re.compile(r"^ \([\d,]+ to [\d,]+; less in all 23 draws\)$"))
    sketch.page.reload()
    expect(figure.locator(".figure-band")).to_have_text(re.compile(r"^ \([\d,]+ to [\d,]+\)$"))


def test_stage_and_supports_change_the_figures_and_survive_a_reload(sketch: Sketch) -> None:
    page, version = sketch.page, sketch.version
    before = {name: sketch.figure(name) for name in ("peak-stress", "fatigue-ratio", "axial")}
    load(sketch, "stage", "full")
    expect(page.locator("#figure-peak-stress")).not_to_have_attribute("data-figure", before["peak-stress"])
    expect(page.locator("#load-source")).to_contain_text("published")
    load(sketch, "distal", "held")
    expect(page.locator("#pair-axial dt")).to_contain_text("distal end held")
    after = {name: sketch.figure(name) for name in before}
    assert all(after[name] != before[name] for name in before)
    assert "loading=0,full,ball,held" in page.url
    page.reload()
    sketch.settled()
    assert {name: sketch.figure(name) for name in before} == after
    expect(page.locator("#c-load-stage")).to_have_value("full")
    page.locator("#load-reset").click()
    expect(page.locator("#figure-axial")).to_have_attribute("data-figure", before["axial"])
    assert "loading" not in page.url
    assert sketch.version == version


def test_own_load_is_kept_by_edits_and_undo(sketch: Sketch) -> None:
    page = sketch.page
    load(sketch, "axial_n", "777")
    expect(page.locator("#c-load-stage")).to_have_value("own")
    expect(page.locator("#mech")).to_have_attribute("data-query", re.compile("loading=0,own,777,"))
    for act in (lambda: page.keyboard.press("0"), lambda: page.keyboard.press("Control+z")):
        sketch.hole(6).focus()
        version = sketch.version
        act()
        sketch.written_after(version)
        expect(page.locator("#c-load-axial_n")).to_have_value("777")
        assert "loading=0,own,777," in page.url


def test_a_load_out_of_range_is_refused_and_the_old_one_stays(sketch: Sketch, watch: Watch) -> None:
    watch.expected.append("422")
    page, peak = sketch.page, sketch.figure("peak-stress")
    load(sketch, "axial_n", "99999")
    expect(page.locator("#status")).to_have_text("Axial takes a number from 0 to 10000 N, such as 12.5 or 12,5.")
    expect(page.locator("#c-load-stage")).to_have_value("protected")
    expect(page.locator("#c-load-axial_n")).not_to_have_value("99999")
    assert sketch.figure("peak-stress") == peak


def test_peak_of_the_curve_stands_at_its_place_on_the_ruler(sketch: Sketch) -> None:
    """One unit of the drawing is 1 mm and x is s, so the mark's place can be read off as the ruler's."""
    page = sketch.page
    peak = page.locator("#stress-peak")
    s_mm = float(peak.get_attribute("data-s") or "nan")
    told = re.fullmatch(r"(\d+) MPa at (\d+) mm", sketch.figure("peak-stress"))
    assert told is not None
    assert float(told[2]) == pytest.approx(s_mm, abs=0.51)
    x, top = page.evaluate(
        """() => {
          const svg = document.querySelector('#sketch');
          const mark = document.querySelector('#stress-peak path.solid').getBBox();
          const numbers = document.querySelector('#stress path.stress').getAttribute('d');
          const points = [...numbers.matchAll(/([\\d.]+),([\\d.]+)/g)].map((m) => [Number(m[1]), Number(m[2])]);
          const top = points.reduce((a, b) => (b[1] < a[1] ? b : a));
          return [mark.x + mark.width / 2, top[0]];
        }"""
    )
    assert x == pytest.approx(s_mm, abs=0.05)
    assert top == pytest.approx(s_mm, abs=0.05)


def test_unstable_construct_says_so_in_panel_and_drawing(sketch: Sketch) -> None:
    for hole in (1, 3):
        version = sketch.version
        sketch.hole(hole).focus()
        sketch.page.keyboard.press("0")
        sketch.written_after(version)
    expect(sketch.page.locator("#mech-unstable")).to_contain_text("turns about its only screw")
    expect(sketch.page.locator("#stress")).to_contain_text("No curve: unstable")
    expect(sketch.page.locator("#figure-axial")).to_have_count(0)


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_no_axe_violation_with_changed_figures(sketch: Sketch, scheme: str) -> None:
    sketch.page.emulate_media(color_scheme="dark" if scheme == "dark" else "light")
    version = sketch.version
    sketch.hole(6).focus()
    sketch.page.keyboard.press("0")
    sketch.written_after(version)
    sketch.page.wait_for_timeout(1400)  # the flash of changed figures is over
    assert violations(sketch.page) == []


def test_validation_is_reached_from_the_panel(sketch: Sketch) -> None:
    sketch.page.locator("#estimate a").click()
    expect(sketch.page).to_have_url(re.compile("/validation$"))
    expect(sketch.page.locator(".bench")).to_have_count(len(BENCH_CASES))
    assert sketch.page.evaluate("document.documentElement.scrollWidth") <= 1440
