"""Answers that get lost or say that something failed: nothing is written twice, nothing is lost, nobody is left alone.

What was written is counted in the history at the end.
"""

import json
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Download, Page, Route, expect

from tests.browser.conftest import PATIENCE_MS, Watch
from tests.browser.sketching import Sketch
from tests.serving import Server
from tests.store.troubled import LONG, TROUBLES

pytestmark = pytest.mark.browser
HUMERUS = "Capstan bar"
TRIES = 6
SAID = "Failed to load resource"  # the browser’s own note of a failed request


@pytest.fixture
def sketch(page: Page, watch: Watch) -> Sketch:
    watch.expected.append(SAID)
    return Sketch(page).open_sample(HUMERUS)


def labels(sketch: Sketch) -> list[str]:
    """The history, oldest first."""
    found = sketch.page.request.get(f"/api/v1/cases/{sketch.case_id}/revisions").json()
    return [one["label"] for one in found]


def spoil(page: Page, address: str, answer: Callable[[Route, int], None]) -> list[str]:
    """Have every request to an address answered by hand; gives the keys that came, in order."""
    keys: list[str] = []

    def handle(route: Route) -> None:
        keys.append(route.request.headers.get("idempotency-key", ""))
        answer(route, len(keys))

    page.route(address, handle)
    return keys


def written_but_lost(times: int) -> Callable[[Route, int], None]:
    """The server gets the first ones and answers, and nobody hears it."""

    def answer(route: Route, number: int) -> None:
        if number > times:
            route.continue_()
            return
        route.fetch()
        route.abort()

    return answer


def written_but_500(times: int, written: bool | None) -> Callable[[Route, int], None]:
    def answer(route: Route, number: int) -> None:
        if number > times:
            route.continue_()
            return
        route.fetch()
        body = {"status": 500, "error": "Something went wrong on the server.", "faults": [], "written": written}
        route.fulfill(status=500, json=body)

    return answer


def hurried(page: Page, there: Callable[[], bool], step_ms: int = 1_000) -> None:
    """Let the page's clock run, faster than ours, until something is there."""
    for _ in range(200):
        if there():
            return
        page.clock.run_for(step_ms)
        page.wait_for_timeout(20)
    pytest.fail("it never came")


def wait_for_tries(page: Page, keys: list[str], count: int) -> None:
    """Until the page has tried so often."""
    hurried(page, lambda: len(keys) >= count, 5_000)


ADD_LAG = "[data-edit*='\"add_lag\"']"


@pytest.mark.parametrize(
    "answer",
    [written_but_lost(1), written_but_lost(3), written_but_500(2, None), written_but_500(1, True)],
    ids=["lost", "lost three times", "500", "500 that says written"],
)
def test_what_was_written_unheard_is_not_written_again(sketch: Sketch, answer: Callable[[Route, int], None]) -> None:
    """An edit that would be there twice, if it were made twice."""
    keys = spoil(sketch.page, "**/edits", answer)
    before = len(sketch.exported()["constructs"][0].get("lag_screws", []))
    sketch.page.clock.install()
    sketch.page.locator("#c-lag-add[data-ask]").click()
    sketch.page.locator(f"#c-lag-add{ADD_LAG}").click()
    hurried(sketch.page, lambda: sketch.version == 2)
    expect(sketch.page.locator("#connection")).to_be_hidden()
    assert len(set(keys)) == 1
    assert keys[0]
    assert len(labels(sketch)) == 2
    assert len(sketch.exported()["constructs"][0]["lag_screws"]) == before + 1
    sketch.page.unroute("**/edits")
    sketch.hole(3).click()
    sketch.written_after(2)
    assert len(labels(sketch)) == 3


def test_an_undo_whose_answer_is_lost_undoes_one_step(sketch: Sketch) -> None:
    for number in (3, 6):
        version = sketch.version
        sketch.hole(number).click()
        sketch.written_after(version)
    keys = spoil(sketch.page, "**/undo", written_but_lost(2))
    sketch.page.clock.install()
    sketch.page.locator("[data-history='undo']").click()
    hurried(sketch.page, lambda: sketch.version == 4)
    assert len(set(keys)) == 1
    assert len(keys) == 3
    assert sketch.version == 4
    roles = [hole["role"] for hole in sketch.exported()["constructs"][0]["holes"]]
    assert (sketch.role(3), roles[2]) == ("neutral", "neutral")


def test_a_what_if_whose_answer_is_lost_is_kept_once(sketch: Sketch) -> None:
    spoil(sketch.page, "**/api/v1/cases/*/whatifs", written_but_lost(1))
    sketch.page.locator("#whatif-keep").click()
    expect(sketch.page.locator("#status")).to_contain_text("not known whether")
    sketch.page.locator("#whatif-keep").click()
    expect(sketch.page.locator("#whatif-list > li")).to_have_count(1)


def test_a_server_that_is_down_for_good_is_left_in_peace(sketch: Sketch) -> None:
    page = sketch.page
    page.clock.install()
    keys = spoil(page, "**/edits", lambda route, _: route.abort())
    place = page.locator("#connection")
    sketch.hole(3).click()
    expect(place).to_contain_text("1 change is kept in this tab to be written; trying again.")
    wait_for_tries(page, keys, TRIES)
    expect(place).to_contain_text("when the server is back, press “Try again”")
    expect(page.locator("#write-again")).to_be_visible()
    page.clock.run_for(600_000)
    assert len(keys) == TRIES
    assert len(set(keys)) == 1
    with page.expect_download() as saved:
        page.locator("#waiting-file").click()
    download: Download = saved.value
    kept = json.loads(Path(download.path()).read_text(encoding="utf-8"))
    assert [(one["op"], one["hole"]) for one in kept] == [("set_role", 2)]
    assert labels(sketch) == ["Copy of a sample case"], "nothing has come through"
    # Even a reload loses nothing, and one press of the button writes it.
    page.reload()
    sketch.settled()
    page.unroute("**/edits")
    page.clock.run_for(20_000)
    sketch.expect_role(3, "neutral")
    expect(place).to_be_hidden()
    assert len(labels(sketch)) == 2


def test_the_button_goes_on_with_what_waits(sketch: Sketch) -> None:
    page = sketch.page
    page.clock.install()
    keys = spoil(page, "**/edits", lambda route, _: route.abort())
    sketch.hole(3).click()
    wait_for_tries(page, keys, TRIES)
    again = page.locator("#write-again")
    expect(again).to_be_visible()
    page.unroute("**/edits")
    again.click()
    sketch.expect_role(3, "neutral")
    expect(page.locator("#connection")).to_be_hidden()
    assert len(labels(sketch)) == 2


@pytest.fixture
def own(tmp_path: Path) -> Iterator[tuple[Server, str]]:
    server = Server(tmp_path)
    yield server, server.start()
    server.stop()


@pytest.fixture
def own_sketch(own: tuple[Server, str], browser: Browser) -> Iterator[Sketch]:
    context = browser.new_context(base_url=own[1], viewport={"width": 1440, "height": 900})
    context.set_default_timeout(PATIENCE_MS)
    yield Sketch(context.new_page()).open_sample(HUMERUS)
    context.close()


def test_a_result_that_cannot_be_shown_is_told_once(own_sketch: Sketch, monkeypatch: pytest.MonkeyPatch) -> None:
    sketch = own_sketch

    def failing(*_: object) -> str:
        raise RuntimeError("no drawing")

    asked: list[str] = []
    sketch.page.on("request", lambda request: asked.append(request.url) if "/edits" in request.url else None)
    monkeypatch.setattr("app.web.panels.written.drawing", failing)
    sketch.hole(3).click()
    sketch.written_after(1)
    expect(sketch.page.locator("#status")).to_contain_text("kept as version 2, but the drawing can’t be shown")
    expect(sketch.page.locator("#connection")).to_be_hidden()
    sketch.page.wait_for_timeout(700)
    assert len(asked) == 1
    assert len(labels(sketch)) == 2
    monkeypatch.undo()
    sketch.page.locator("[data-history='undo']").click()
    sketch.expect_role(3, "empty")


@pytest.mark.parametrize("name", ["full", "read-only", "locked", "damaged", "moved"])
def test_a_database_in_trouble_is_told_and_the_edit_is_kept(
    own: tuple[Server, str], own_sketch: Sketch, name: str
) -> None:
    sketch, place = own_sketch, own_sketch.page.locator("#connection")
    bring, what, remedy = TROUBLES[name]
    store = own[0].app.state.server.store
    mend = bring(store)
    note = sketch.page.locator("#c-note")
    made = 0
    while not place.is_visible() and made < 40:
        made += 1
        note.evaluate(
            """(field, value) => {
              field.value = value;
              field.dispatchEvent(new Event("change", { bubbles: true }));
            }""",
            f"{made} {LONG}",
        )
        sketch.page.wait_for_timeout(250)
    expect(place).to_contain_text(what[1:])
    expect(place).to_contain_text(remedy)
    expect(place).to_contain_text("kept in this tab")
    mend()
    expect(place).to_be_hidden(timeout=15_000)
    assert sketch.exported()["note"] == f"{made} {LONG}"
    assert len(labels(sketch)) == sketch.version == made + 1
