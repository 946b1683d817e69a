"""The line over which a drag is shown: used where there is one, done without where there is none or none any more."""

import time
from collections.abc import Callable

import pytest
from playwright.sync_api import Page, Request, WebSocket, WebSocketRoute, expect

from app.web.routes import live
from app.web.routes.cases import PreviewRequest
from tests.browser.sketching import Sketch

pytestmark = pytest.mark.browser
HUMERUS = "Capstan bar"
WARNED = ("crosses-fracture", "h4")

# What is shown, and what the server draws of the same case: without what belongs to pointer and focus.
SHOWN_AND_DRAWN = """async () => {
  const told = (root) => {
    const drawing = root.querySelector("#sketch").cloneNode(true);
    drawing.querySelectorAll("*").forEach((node) => {
      node.classList.remove("pointed");
      node.removeAttribute("tabindex");
    });
    return drawing.outerHTML;
  };
  const page = await (await fetch(location.href)).text();
  return [told(document), told(new DOMParser().parseFromString(page, "text/html"))];
}"""


def hold_and_pull(sketch: Sketch, dx_mm: float, steps: int = 15) -> None:
    """Take hold of the fracture and pull, without letting go."""
    x, y = sketch.middle(sketch.grip("move_fracture"))
    sketch.page.mouse.move(x, y)
    sketch.page.mouse.down()
    sketch.page.mouse.move(x + dx_mm * sketch.mm_in_px(), y, steps=steps)


def previews_of(page: Page) -> list[str]:
    asked: list[str] = []

    def note(request: Request) -> None:
        if request.url.endswith("/preview"):
            asked.append(request.url)

    page.on("request", note)
    return asked


def test_a_drag_is_shown_over_one_line(page: Page) -> None:
    lines: list[WebSocket] = []
    frames: list[str | bytes] = []

    def opened(line: WebSocket) -> None:
        lines.append(line)
        line.on("framesent", lambda frame: frames.append(frame))

    page.on("websocket", opened)
    requests = previews_of(page)
    sketch = Sketch(page).open_sample(HUMERUS)
    hold_and_pull(sketch, -18, steps=30)
    expect(sketch.warnings(*WARNED)).to_have_count(1)
    sketch.released()
    sketch.drag(sketch.grip("move_plate"), 20)
    assert len(lines) == 1
    assert len(frames) > 4
    assert len(requests) <= 2, "only what was asked before the line was open"


def test_a_drawing_changed_part_by_part_is_the_servers(page: Page) -> None:
    sketch = Sketch(page).open_sample(HUMERUS)
    for op, dx in (("move_fracture", -40), ("move_plate", 30), ("set_obliquity", 25), ("set_tilt", 20)):
        sketch.drag(sketch.grip(op), dx)
    sketch.hole(3).click()
    sketch.written_after(5)
    page.locator("[data-history='undo']").click()
    sketch.written_after(6)
    window = page.locator("#sketch").get_attribute("data-view")
    page.locator("#fit").click()  # a drag keeps the window, a new page fits it
    expect(page.locator("#sketch")).not_to_have_attribute("data-view", str(window))
    shown, drawn = page.evaluate(SHOWN_AND_DRAWN)
    assert shown == drawn


def test_where_no_line_goes_through_requests_do(page: Page) -> None:
    page.route_web_socket("**/live", lambda line: line.close())
    requests = previews_of(page)
    sketch = Sketch(page).open_sample(HUMERUS)
    hold_and_pull(sketch, -18)
    expect(sketch.warnings(*WARNED)).to_have_count(1)
    sketch.released()
    expect(sketch.warnings(*WARNED)).to_have_count(1)
    assert requests


def test_a_line_that_breaks_is_done_without(page: Page) -> None:
    heard = []

    def breaking(line: WebSocketRoute) -> None:
        server = line.connect_to_server()

        def pass_on(message: str | bytes) -> None:
            heard.append(message)
            if len(heard) < 3:
                server.send(message)
            else:
                line.close()

        line.on_message(pass_on)

    page.route_web_socket("**/live", breaking)
    requests = previews_of(page)
    sketch = Sketch(page).open_sample(HUMERUS)
    hold_and_pull(sketch, -18, steps=40)
    expect(sketch.warnings(*WARNED)).to_have_count(1)
    assert len(heard) == 3
    assert requests
    sketch.released()
    expect(sketch.warnings(*WARNED)).to_have_count(1)


def test_figures_out_of_sight_come_when_they_come_into_sight(page: Page) -> None:
    page.set_viewport_size({"width": 1000, "height": 620})
    sketch = Sketch(page).open_sample(HUMERUS)
    expect(page.locator("#panel-mechanics")).not_to_be_in_viewport()
    before = sketch.figure("axial")
    place = page.locator("#line-0").get_attribute("aria-valuenow")
    assert before
    assert place
    hold_and_pull(sketch, -18)
    expect(page.locator("#line-0")).to_have_attribute("aria-valuenow", str(round(float(place)) - 18))
    assert sketch.figure("axial") == before, "nobody sees it"
    page.locator("#panel-mechanics").evaluate("panel => panel.scrollIntoView()")
    expect(page.locator("#figure-axial")).not_to_have_attribute("data-figure", before)
    page.keyboard.press("Escape")
    expect(page.locator("#figure-axial")).to_have_attribute("data-figure", before)


@pytest.fixture
def slow_way(monkeypatch: pytest.MonkeyPatch) -> Callable[[], None]:
    """Call it, and answers on the line take a quarter of a second."""
    answered = live.Page.answered

    def slowly(self: live.Page, asked: PreviewRequest) -> live.LiveRedraw:
        time.sleep(0.25)
        return answered(self, asked)

    return lambda: monkeypatch.setattr(live.Page, "answered", slowly)


@pytest.mark.serial
@pytest.mark.parametrize(("op", "part"), [("move_fracture", "#line-0"), ("move_plate", "#plate")])
def test_there_and_back_before_the_answer_leaves_nothing_displaced(
    page: Page, slow_way: Callable[[], None], op: str, part: str
) -> None:
    """The handle moves by itself when the answer is late; the picture that comes then has the same lines as before."""
    sketch = Sketch(page).open_sample(HUMERUS)
    place = page.locator(part)
    value = place.get_attribute("data-value")
    x, y = sketch.middle(sketch.grip(op))
    there, farther = 12 * sketch.mm_in_px(), 17 * sketch.mm_in_px()
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + there, y, steps=8)
    expect(place).not_to_have_attribute("data-value", str(value))
    page.wait_for_timeout(300)
    slow_way()
    page.mouse.move(x + farther, y)
    expect(place).to_have_attribute("data-moved", "")
    page.mouse.move(x + there, y)
    sketch.released()
    expect(place).not_to_have_attribute("data-moved", "")
    assert place.get_attribute("transform") is None


@pytest.mark.serial
def test_a_drag_given_up_again_and_again_leaves_nothing_displaced(page: Page, slow_way: Callable[[], None]) -> None:
    sketch = Sketch(page).open_sample(HUMERUS)
    line = page.locator("#line-0")
    slow_way()
    for _ in range(3):
        hold_and_pull(sketch, -10)
        expect(line).to_have_attribute("data-moved", "")
        page.keyboard.press("Escape")
        page.mouse.up()
        expect(line).not_to_have_attribute("data-moved", "")
        assert line.get_attribute("transform") is None
    page.wait_for_timeout(600)
    shown, drawn = page.evaluate(SHOWN_AND_DRAWN)
    assert shown == drawn
