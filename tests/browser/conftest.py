"""A real server and a real Chromium for every test; console errors and outside requests fail it."""

from collections.abc import Generator, Iterator

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, expect, sync_playwright

from tests.chromium import ARGS, chromium_path, fonts_for_chromium
from tests.serving import Server

# How long something may take that is not itself measured: a busy machine is no fault of the page.
PATIENCE_MS = 30_000
expect.set_options(timeout=15_000)


@pytest.fixture(scope="session")
def base_url(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    server = Server(tmp_path_factory.mktemp("data"))
    yield server.start()
    server.stop()


@pytest.fixture(scope="session")
def browser(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Browser]:
    env = fonts_for_chromium(tmp_path_factory.mktemp("fonts"))
    with sync_playwright() as playwright:
        try:
            started = playwright.chromium.launch(executable_path=chromium_path(), args=ARGS, env={**env})
        except Exception as error:  # whatever the driver says, there is no browser
            pytest.skip(f"no Chromium could be started: {error}")
        yield started
        started.close()


class Watch:
    """What a page did that it must not do."""

    def __init__(self, context: BrowserContext, base_url: str) -> None:
        self.wrong: list[str] = []
        self.expected: list[str] = []
        self.base_url = base_url
        context.on("request", self._request)
        context.on("console", lambda message: self._console(message.type, message.text))
        context.on("weberror", lambda error: self.wrong.append(f"page error: {error.error}"))

    def _request(self, request: object) -> None:
        url = str(request.url)  # type: ignore[attr-defined]
        if not url.startswith((self.base_url, "data:", "blob:")):
            self.wrong.append(f"outside request: {url}")

    def _console(self, kind: str, text: str) -> None:
        if kind in ("error", "warning") and not any(part in text for part in self.expected):
            self.wrong.append(f"console {kind}: {text}")


@pytest.fixture
def context_options() -> dict[str, object]:
    """Overridden by tests that need touch, another size or another colour scheme."""
    return {"viewport": {"width": 1440, "height": 900}}


@pytest.fixture
def context(
    browser: Browser, base_url: str, context_options: dict[str, object]
) -> Generator[BrowserContext, None, None]:
    made = browser.new_context(base_url=base_url, **context_options)  # type: ignore[arg-type]
    made.set_default_timeout(PATIENCE_MS)
    yield made
    made.close()


@pytest.fixture
def watch(context: BrowserContext, base_url: str) -> Iterator[Watch]:
    watching = Watch(context, base_url)
    yield watching
    assert watching.wrong == []


@pytest.fixture
def page(context: BrowserContext, watch: Watch) -> Page:
    return context.new_page()
