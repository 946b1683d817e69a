"""A real server and a real Chromium for every test; console errors and outside requests fail it."""

import os
import shutil
import subprocess
import threading
import time
from collections.abc import Generator, Iterator
from pathlib import Path

import pytest
import uvicorn
from playwright.sync_api import Browser, BrowserContext, Page, sync_playwright

from app.shipped import typefaces
from app.web import Settings, create_app

ARGS = [
    "--disable-quic",
    # Nothing outside resolves: a page that sneaks in an outside address fails its test. One name stands for a network.
    "--host-resolver-rules=MAP plates.test 127.0.0.1, MAP * ~NOTFOUND, EXCLUDE 127.0.0.1, EXCLUDE localhost",
]


FONTS_CONF = """<?xml version="1.0"?><!DOCTYPE fontconfig SYSTEM "fonts.dtd">
<fontconfig><dir>{fonts}</dir><cachedir>{cache}</cachedir></fontconfig>"""


def chromium_path() -> str | None:
    """Chromium named by FISHPLATE_CHROMIUM, or found on the path; None lets Playwright look for its own."""
    named = os.environ.get("FISHPLATE_CHROMIUM")
    names = ("chromium", "chromium-browser", "google-chrome")
    return named or next((path for name in names if (path := shutil.which(name))), None)


def fonts_for_chromium(folder: Path) -> dict[str, str]:
    """The environment in which Chromium has a font at all.

    Chromium 156 crashes on any text field, of whatever page, where the machine has no font; there it is given ours. A
    machine's own fonts are left alone: what would show that a page takes one is ``test_typeface``.
    """
    lister = shutil.which("fc-list")
    if lister and subprocess.run([lister], capture_output=True, check=False).stdout.strip():
        return dict(os.environ)
    folder.mkdir(parents=True, exist_ok=True)
    config = folder / "fonts.conf"
    config.write_text(FONTS_CONF.format(fonts=typefaces(), cache=folder / "cache"), encoding="utf-8")
    return {**os.environ, "FONTCONFIG_FILE": str(config)}


class Server:
    """Fishplate on a free port (or a given one), in a thread."""

    def __init__(self, data_dir: Path, phrase: str | None = None, port: int = 0) -> None:
        self.app = create_app(Settings(data_dir=data_dir, phrase=phrase))
        config = uvicorn.Config(
            self.app,
            host="127.0.0.1",
            port=port,
            log_level="error",
            timeout_graceful_shutdown=1,
            ws="app.web.http.websocket_protocol:protocol",
        )
        self.server = uvicorn.Server(config)
        self.thread = threading.Thread(target=self.server.run, daemon=True)

    def start(self) -> str:
        self.thread.start()
        for _ in range(400):
            if self.server.started:
                port = self.server.servers[0].sockets[0].getsockname()[1]
                return f"http://127.0.0.1:{port}"
            time.sleep(0.025)
        raise RuntimeError("the server did not start within 10 s")

    def stop(self) -> None:
        self.app.state.server.changes.close()  # as a signal to stop does, which a thread doesn't get
        self.server.should_exit = True
        self.thread.join(timeout=10)


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
            started = playwright.chromium.launch(executable_path=chromium_path(), args=ARGS, env=env)
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
    made.set_default_timeout(8000)
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
