"""What a person does on the sketch page, in verbs."""

import json
from typing import Any

from playwright.sync_api import Locator, Page, expect

from app.assess import assess, load_knowledge
from app.case import parse_case
from app.document import as_document
from app.samples import load_samples

SAMPLES = {sample.key: sample.case.title for sample in load_samples()}


class Sketch:
    """One open sketch page."""

    def __init__(self, page: Page) -> None:
        self.page = page

    @property
    def case_id(self) -> str:
        return self.page.url.split("/cases/")[1].split("?")[0]

    @property
    def version(self) -> int:
        return int(self.page.locator("body").get_attribute("data-version") or 0)

    def open_sample(self, title: str) -> "Sketch":
        """A copy of a sample, without the way over the list, which one test goes for all."""
        (key,) = [key for key, found in SAMPLES.items() if title in found]
        made = self.page.request.post("/cases", form={"sample": key}, max_redirects=0)
        return self.open(made.headers["location"])

    def choose_sample(self, title: str) -> "Sketch":
        """The same from the list, with one click."""
        self.page.goto("/")
        self.page.locator("button.card-button", has_text=title).click()
        self.page.wait_for_url("**/cases/*")
        return self.opened()

    def open(self, address: str) -> "Sketch":
        """The sketch page of a case."""
        self.page.goto(address)
        return self.opened()

    def opened(self) -> "Sketch":
        """The page is there, and works."""
        expect(self.page.locator("#sketch")).to_be_visible()
        self.settled()
        return self

    def settled(self) -> None:
        """Scripts have run: the drawing fits, the holes have their one tab stop, the list of what-ifs has come."""
        expect(self.page.locator("#board[data-room]")).to_have_count(1)
        expect(self.page.locator("#board .handle[data-hole][tabindex='0']")).to_have_count(1)
        expect(self.page.locator("#whatif-keep")).to_be_attached()

    def hole(self, number: int) -> Locator:
        return self.page.locator(f"#hole-{number}")

    def role(self, number: int) -> str | None:
        return self.hole(number).get_attribute("data-role")

    def expect_role(self, number: int, role: str) -> None:
        expect(self.hole(number)).to_have_attribute("data-role", role)

    def grip(self, op: str) -> Locator:
        """The first grip that makes this kind of edit."""
        return self.page.locator(f"#board .handle[data-drag][data-edit*='\"{op}\"']").first

    def warnings(self, rule: str, subject: str | None = None) -> Locator:
        about = f"[data-parts~='{subject}']" if subject else ""
        return self.page.locator(f"#warning-list [data-rule='{rule}']{about}")

    def mm_in_px(self) -> float:
        return float(self.page.evaluate("document.querySelector('#sketch').getScreenCTM().a"))

    def middle(self, grip: Locator) -> tuple[float, float]:
        """Where a person takes hold: the knob of a grip that has one."""
        knobs = grip.locator(".knob")
        place = knobs.last if knobs.count() else grip
        place.scroll_into_view_if_needed()
        box = place.bounding_box()
        assert box is not None
        return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2

    def drag(self, grip: Locator, dx_px: float, dy_px: float = 0, steps: int = 12, release: bool = True) -> None:
        x, y = self.middle(grip)
        mouse = self.page.mouse
        mouse.move(x, y)
        mouse.down()
        mouse.move(x + dx_px, y + dy_px, steps=steps)
        if release:
            self.released()

    def released(self) -> None:
        """Let go, and wait until the server has written it."""
        before = self.version
        self.page.mouse.up()
        self.written_after(before)

    def written_after(self, version: int) -> None:
        expect(self.page.locator("body")).not_to_have_attribute("data-version", str(version))

    def exported(self) -> dict[str, Any]:
        answer = self.page.request.get(f"/cases/{self.case_id}/export")
        assert answer.ok
        document: dict[str, Any] = json.loads(answer.body())
        return document

    def assessed(self) -> dict[str, Any]:
        """What ``fishplate assess`` says of the exported case."""
        case = parse_case(json.dumps(self.exported()))
        return dict(as_document(assess(case, load_knowledge())))

    def figure(self, name: str) -> str:
        return self.page.locator(f"#figure-{name}").get_attribute("data-figure") or ""
