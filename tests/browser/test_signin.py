"""Signing in from another machine: plain http under a name that browsers don't take for this machine."""

import re
from collections.abc import Iterator

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, expect

from tests.browser.conftest import PATIENCE_MS
from tests.browser.test_pages import FAULTS_ONLY
from tests.entrance import PHRASE
from tests.serving import Server

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def elsewhere(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    server = Server(tmp_path_factory.mktemp("behind-a-phrase"), PHRASE)
    yield server.start().replace("127.0.0.1", "plates.test")
    server.stop()


@pytest.fixture
def visitor(browser: Browser) -> Iterator[Page]:
    context = browser.new_context()
    context.set_default_timeout(PATIENCE_MS)
    yield context.new_page()
    context.close()


def give(page: Page, phrase: str) -> None:
    page.get_by_label("Access phrase").fill(phrase)
    with page.expect_navigation():
        page.keyboard.press("Enter")


def test_the_phrase_opens_the_page_that_was_asked_for(visitor: Page, elsewhere: str) -> None:
    visitor.goto(f"{elsewhere}/rules")
    expect(visitor).to_have_title(re.compile("^Sign in"))
    give(visitor, "certainly not it")
    expect(visitor.get_by_role("alert")).to_have_text("That is not the access phrase.")
    visitor.goto(f"{elsewhere}/rules")
    give(visitor, PHRASE)
    expect(visitor).to_have_url(f"{elsewhere}/rules")
    # Forms and scripts write from here, though the browser sends no Sec-Fetch-Site.
    visitor.goto(f"{elsewhere}/")
    visitor.locator(".card-button").first.click()
    expect(visitor).to_have_url(re.compile("/cases/"))
    expect(visitor.locator("#whatif-keep")).to_be_visible()  # scripts have run
    before = visitor.locator("#hole-1").get_attribute("aria-label")
    visitor.locator("#hole-1").press("Enter")
    expect(visitor.locator("#undo")).to_be_enabled()
    assert visitor.locator("#hole-1").get_attribute("aria-label") != before


def test_signing_out(visitor: Page, elsewhere: str) -> None:
    visitor.goto(f"{elsewhere}/signin")
    give(visitor, PHRASE)
    visitor.goto(f"{elsewhere}/signin")
    with visitor.expect_navigation():
        visitor.get_by_role("button", name="Sign out").click()
    visitor.goto(f"{elsewhere}/rules")
    expect(visitor).to_have_title(re.compile("^Sign in"))


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_page_is_accessible(visitor: Page, elsewhere: str, scheme: str) -> None:
    visitor.emulate_media(color_scheme=scheme)  # type: ignore[arg-type]
    visitor.goto(f"{elsewhere}/signin")
    assert Axe().run(visitor, options=FAULTS_ONLY).violations_count == 0
    give(visitor, "certainly not it")
    expect(visitor.get_by_role("alert")).to_be_visible()
    assert Axe().run(visitor, options=FAULTS_ONLY).violations_count == 0
    give(visitor, PHRASE)
    visitor.goto(f"{elsewhere}/signin")
    expect(visitor.get_by_role("button", name="Sign out")).to_be_visible()
    assert Axe().run(visitor, options=FAULTS_ONLY).violations_count == 0
