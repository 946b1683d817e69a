"""The same look on every machine: no page, drawing or paper takes a font from the machine that shows it."""

import os
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import httpx
import matplotlib
import numpy as np
import pytest
from fontTools.fontBuilder import FontBuilder
from fontTools.pens.ttGlyphPen import TTGlyphPen
from PIL import Image
from playwright.sync_api import Browser, CDPSession, Error, Page

from app.drawing.typeface import text_width
from tests.chromium import ARGS, FONTS_CONF, chromium_path
from tests.papers import fonts, picture

pytestmark = pytest.mark.browser
SAMPLE = "01-humerus-oblique-compression"
OWN = "Fishplate Sans"
PAGES = ["/", "/rules", "/validation", "/help", "/api", "/nowhere", "", "/plan", "/tools", "/compare", "/conference"]
# Anti-aliasing: how much one pixel's colour may differ (of 255), and how many may differ by more.
SHADE, SPECKS = 40, 20


@pytest.fixture(scope="module")
def case(base_url: str) -> str:
    """Address of a case's sketch page."""
    return httpx.post(f"{base_url}/cases", data={"sample": SAMPLE}).headers["location"]


def address(case: str, page: str) -> str:
    return page if page in {"/", "/rules", "/validation", "/help", "/api", "/nowhere"} else case + page


def blocks(path: Path) -> None:
    """A font that shows every sign as a black block wider than the type is high: whoever takes it can't hide it."""
    names = [".notdef", "block"]
    pen = TTGlyphPen(None)
    pen.moveTo((0, -200))
    for point in ((0, 900), (1300, 900), (1300, -200)):
        pen.lineTo(point)
    pen.closePath()
    block = pen.glyph()
    made = FontBuilder(1000, isTTF=True)
    made.setupGlyphOrder(names)
    made.setupCharacterMap(dict.fromkeys([*range(0x20, 0x3000)], "block"))
    made.setupGlyf(dict.fromkeys(names, block))
    made.setupHorizontalMetrics(dict.fromkeys(names, (1400, 0)))
    made.setupHorizontalHeader(ascent=1000, descent=-400)
    made.setupNameTable({"familyName": "Blocks", "styleName": "Regular"})
    made.setupOS2(sTypoAscender=1000, sTypoDescender=-400, usWinAscent=1000, usWinDescent=400)
    made.setupPost()
    made.save(path)


def machine(folder: Path, name: str) -> dict[str, str]:
    """The environment of a machine that has only these fonts, and of a user who brings none."""
    here = folder / name
    home = here / "home"
    home.mkdir(parents=True)
    if name == "dejavu":
        fonts = Path(matplotlib.get_data_path()) / "fonts" / "ttf"  # what this library brings are the DejaVu fonts
        assert (fonts / "DejaVuSans.ttf").is_file()
    else:
        fonts = here / "fonts"
        fonts.mkdir()
        blocks(fonts / "blocks.ttf")
    config = here / "fonts.conf"
    config.write_text(FONTS_CONF.format(fonts=fonts, cache=here / "cache"), encoding="utf-8")
    return {**os.environ, "FONTCONFIG_FILE": str(config), "HOME": str(home), "XDG_CACHE_HOME": str(here / "cache")}


@pytest.fixture(scope="module")
def machines(browser: Browser, tmp_path_factory: pytest.TempPathFactory) -> Iterator[dict[str, Browser]]:
    """Chromium on three machines: this one, one with DejaVu only, one whose only font is black blocks."""
    folder = tmp_path_factory.mktemp("machines")
    started = {
        name: browser.browser_type.launch(executable_path=chromium_path(), args=ARGS, env=machine(folder, name))
        for name in ("dejavu", "blocks")
    }
    yield {"this one": browser, **started}
    for one in started.values():
        one.close()


# What comes after the page itself (what-ifs, panels in sight) has come when the network is idle, but for the bands of
# figures, which are asked for when the hand rests; and it is in its place when the height stays for a moment.
BANDS_SHOWN = """() => {
  const places = [...document.querySelectorAll("[data-band]")]
  return !places.length || places.some((place) => place.textContent)
}"""
HEIGHT = """async () => {
  const height = () => document.documentElement.scrollHeight
  let last = -1, since = performance.now()
  while (performance.now() - since < 400) {
    if (height() !== last) { last = height(); since = performance.now() }
    await new Promise(requestAnimationFrame)
  }
  return last
}"""


def opened(browser: Browser, base_url: str, width: int, path: str) -> Page:
    size = {"width": width, "height": 1400}
    context = browser.new_context(base_url=base_url, viewport=size, reduced_motion="reduce")  # type: ignore[arg-type]
    page = context.new_page()
    page.goto(path)
    page.wait_for_load_state("networkidle")
    page.evaluate("document.fonts.ready")
    page.wait_for_function(BANDS_SHOWN)
    return page


def shown(browser: Browser, base_url: str, width: int, path: str) -> tuple[int, Image.Image]:
    """How high the page is, and what is seen of it."""
    page = opened(browser, base_url, width, path)
    height = int(page.evaluate(HEIGHT))
    seen = photographed(page, animations="disabled", caret="hide")
    page.context.close()
    return height, seen


def photographed(page: Page, **how: Any) -> Image.Image:
    """What is seen of a page. Where all cores are busy, Chromium's compositor may miss its time; then once more."""
    try:
        return picture(page.screenshot(**how))
    except Error as error:
        if "Unable to capture screenshot" not in str(error):
            raise
        return picture(page.screenshot(**how))


def unlike(one: Image.Image, other: Image.Image) -> int:
    """How many samples differ by more than anti-aliasing may."""
    assert (one.size, one.mode) == (other.size, other.mode)
    first, second = (np.asarray(seen).astype(int) for seen in (one, other))
    return int((abs(first - second) > SHADE).sum())


@pytest.mark.parametrize("width", [1440, 390])
@pytest.mark.parametrize("page", ["/", "", "/plan"], ids=["cases", "sketch", "plan"])
def test_a_page_looks_the_same_on_every_machine(
    machines: dict[str, Browser], base_url: str, case: str, page: str, width: int
) -> None:
    seen = {name: shown(one, base_url, width, address(case, page)) for name, one in machines.items()}
    height, here = seen["this one"]
    assert {name: found for name, (found, _) in seen.items()} == dict.fromkeys(seen, height)
    differing = {name: unlike(here, found) for name, (_, found) in seen.items()}
    assert max(differing.values()) <= SPECKS, differing


def test_blocks_would_be_seen(machines: dict[str, Browser], base_url: str) -> None:
    """The comparison above can tell: text in the machine's own font differs between them."""
    pictures = []
    for name in ("this one", "blocks"):
        page = machines[name].new_page(viewport={"width": 300, "height": 100})
        page.set_content("<p style='font-family: sans-serif'>plate 164 mm</p>")
        pictures.append(photographed(page))
        page.context.close()
    assert unlike(*pictures) > SPECKS


def fonts_by_node(page: Page) -> dict[str, set[str]]:
    """Every face that Chromium used on a page, and whose text it set: CDP, ``CSS.getPlatformFontsForNode``."""
    cdp: CDPSession = page.context.new_cdp_session(page)
    cdp.send("DOM.enable")
    cdp.send("CSS.enable")
    # The page goes on putting in what-ifs and panels; from here on its nodes stay the ones that are asked about.
    page.evaluate(HEIGHT)
    cdp.send("Emulation.setScriptExecutionDisabled", {"value": True})
    found: dict[str, set[str]] = {}

    def visit(node: dict[str, Any]) -> None:
        parts = [*node.get("children", []), *node.get("shadowRoots", []), *node.get("pseudoElements", [])]
        # the answer is about a node's own text, not that of what is in it
        if node["nodeType"] == 1 and (not parts or any(part["nodeType"] == 3 for part in parts)):
            used = cdp.send("CSS.getPlatformFontsForNode", {"nodeId": node["nodeId"]})["fonts"]
            for font in used:
                name = f"{font['familyName']}{'' if font['isCustomFont'] else ' of the machine'}"
                found.setdefault(name, set()).add(f"{node['localName']} {node.get('attributes', [])[:4]}")
        for part in parts:
            visit(part)

    visit(cdp.send("DOM.getDocument", {"depth": -1, "pierce": True})["root"])
    return found


@pytest.mark.parametrize("path", PAGES, ids=lambda path: path or "sketch")
def test_every_text_of_a_page_is_set_in_our_face(browser: Browser, base_url: str, case: str, path: str) -> None:
    page = opened(browser, base_url, 1440, address(case, path))
    found = fonts_by_node(page)
    page.context.close()
    assert set(found) == {OWN}, {name: sorted(where)[:8] for name, where in found.items() if name != OWN}


@pytest.mark.parametrize("path", PAGES, ids=lambda path: path or "sketch")
def test_both_faces_are_asked_for_before_any_style_sheet(base_url: str, case: str, path: str) -> None:
    """HTML, ``link rel=preload``: so the first picture of a page has its letters in place."""
    head = httpx.get(base_url + address(case, path), timeout=60).text.partition("</head>")[0]
    links = re.findall(r'<link rel="(preload|stylesheet)" href="([^"]+)"', head)
    assert [(rel, href.rsplit("/", 1)[1]) for rel, href in links[:2]] == [
        ("preload", "fishplate-sans-regular.woff2"),
        ("preload", "fishplate-sans-strong.woff2"),
    ]


def test_each_face_is_fetched_once(browser: Browser, base_url: str, case: str) -> None:
    """A preload that doesn't match what the style sheet asks for would be fetched twice."""
    page = opened(browser, base_url, 1440, case)
    loaded = page.evaluate("performance.getEntriesByType('resource').map(one => one.name)")
    page.context.close()
    assert sum(".woff2" in name for name in loaded) == 2, loaded


def alone(page: Page, case: str) -> None:
    """Open the saved drawing as the browser would show it: under its own policy, but not as a download."""

    def undownloaded(route: Any) -> None:
        answer = route.fetch()
        route.fulfill(response=answer, headers={k: v for k, v in answer.headers.items() if k != "content-disposition"})

    page.route("**/drawing.svg*", undownloaded)
    page.goto(f"{case}/drawing.svg")
    page.evaluate("document.fonts.ready")


def test_a_saved_drawing_brings_its_face_with_it(machines: dict[str, Browser], base_url: str, case: str) -> None:
    context = machines["blocks"].new_context(base_url=base_url)
    page = context.new_page()
    said: list[str] = []
    page.on("console", lambda message: said.append(message.text))
    alone(page, case)
    found = fonts_by_node(page)
    texts = page.evaluate(
        "[...document.querySelectorAll('text')].map(t => [t.textContent, t.getComputedTextLength(),"
        " parseFloat(getComputedStyle(t).fontSize), getComputedStyle(t).fontWeight])"
    )
    context.close()
    assert said == []  # its policy lets the face in
    assert set(found) == {OWN}
    assert len(texts) > 20
    for text, length, size, weight in texts:  # the server's table against Chromium, which kerns
        assert length == pytest.approx(text_width(text, size, strong=weight == "600"), rel=0.03), text


def test_paper_from_the_browser_is_set_in_our_face(browser: Browser, base_url: str, case: str) -> None:
    page = opened(browser, base_url, 1440, f"{case}/plan")
    found = fonts(page.pdf(format="A4"))
    page.context.close()
    # ISO 32000-1, 9.6.5: a Type 3 font has no name; Skia makes one for letters that are filled and stroked
    names = {font.name.split("+")[-1] for font in found if font.kind != "/Type3"}
    assert names
    assert all(name.startswith("FishplateSans") for name in names), names
