"""The pages as HTML: complete, well-formed in what matters, and without anything inline."""

import base64
import hashlib
import json
import re
from html.parser import HTMLParser
from urllib.parse import urlsplit

import pytest
from fastapi.testclient import TestClient

from app.catalogue import load_thresholds
from app.catalogue.figures import ON_WORDS
from app.rules import all_rules
from app.web.http.headers import CONTENT_POLICY
from tests.cases import humerus
from tests.client import Stored

PLAIN = ["/", "/rules", "/help", "/api", "/no-such-page"]


class Reader(HTMLParser):
    """Collects what the tests ask about."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str]]] = []
        self.inline: list[str] = []
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        named = {name: value or "" for name, value in attrs}
        self.tags.append((tag, named))
        if tag == "style" or (tag == "script" and not named.get("src")):
            self.inline.append(tag)
        self.inline += [f"{tag} {name}" for name in named if name == "style" or name.startswith("on")]

    def count(self, tag: str) -> int:
        return sum(name == tag for name, _ in self.tags)

    def values(self, attribute: str) -> list[str]:
        return [attrs[attribute] for _, attrs in self.tags if attribute in attrs]


@pytest.fixture(params=[*PLAIN, "sketch"])
def page(request: pytest.FixtureRequest, client: TestClient, stored: Stored) -> Reader:
    path = f"/cases/{stored.id}" if request.param == "sketch" else request.param
    answer = client.get(path)
    assert answer.status_code == (404 if path == "/no-such-page" else 200)
    return Reader(answer.text)


def test_every_page_has_language_title_main_and_one_heading(page: Reader) -> None:
    assert dict(page.tags)["html"]["lang"] == "en"
    assert (page.count("title"), page.count("main"), page.count("h1")) == (1, 1, 1)


def test_nothing_is_inline(page: Reader) -> None:
    assert page.inline == []


def test_ids_are_used_once(page: Reader) -> None:
    ids = page.values("id")
    assert sorted(ids) == sorted(set(ids))


def test_labels_and_names_point_at_something(page: Reader) -> None:
    ids = set(page.values("id"))
    for attribute in ("for", "aria-labelledby", "aria-describedby", "aria-controls"):
        for value in page.values(attribute):
            assert set(value.split()) <= ids


def test_nothing_comes_from_elsewhere(client: TestClient, page: Reader) -> None:
    for address in [*page.values("src"), *page.values("href"), *page.values("action")]:
        parts = urlsplit(address)
        assert (parts.scheme, parts.netloc) == ("", "")
    for address in [*page.values("src"), *(link["href"] for tag, link in page.tags if tag == "link")]:
        assert client.get(address).status_code == 200, address


def test_cautions_stand_once_on_every_page(client: TestClient, stored: Stored) -> None:
    for path in ("/", "/rules", "/help", "/api", f"/cases/{stored.id}"):
        html = client.get(path).text
        assert html.count("Not a medical device.") == 1
        assert "no substitute for a licensed surgeon" in html
        assert "no names, dates of birth or record numbers" in html


def test_headers_are_strict_on_every_answer(client: TestClient, stored: Stored) -> None:
    paths = [
        "/", "/rules", "/help", "/api", "/nowhere", "/static/css/page.css",
        "/static/js/sketch/main.js", "/static/none.js",
        f"/cases/{stored.id}", f"/cases/{stored.id}/export", stored.path, "/api/v1/openapi.json", "/api/v1/nothing",
    ]  # fmt: skip
    for path in paths:
        headers = client.get(path).headers
        assert headers["Content-Security-Policy"] == CONTENT_POLICY, path
        assert headers["X-Content-Type-Options"] == "nosniff"
        assert headers["X-Frame-Options"] == "DENY"
        assert headers["Referrer-Policy"] == "same-origin"
    refused = client.post("/import", headers={"Origin": "https://elsewhere.example"})
    assert refused.headers["Content-Security-Policy"] == CONTENT_POLICY
    assert "unsafe" not in CONTENT_POLICY


def test_the_drawing_file_stands_alone_and_its_policy_names_its_style(client: TestClient, stored: Stored) -> None:
    answer = client.get(f"/cases/{stored.id}/drawing.svg")
    assert answer.headers["Content-Type"].startswith("image/svg+xml")
    assert "attachment" in answer.headers["Content-Disposition"]
    sheet = re.search(r"<style[^>]*>(.*?)</style>", answer.text, re.DOTALL)
    assert sheet is not None
    told = base64.b64encode(hashlib.sha256(sheet[1].encode()).digest()).decode()
    assert f"'sha256-{told}'" in answer.headers["Content-Security-Policy"]
    assert "tabindex" not in answer.text


def test_the_sketch_page_is_complete_without_scripts(client: TestClient, stored: Stored) -> None:
    html = client.get(f"/cases/{stored.id}").text
    assert re.search(r'<svg[^>]* id="sketch"', html)
    for number in range(1, 10):
        assert f'id="hole-{number}"' in html
        assert f'id="row-h{number}"' in html
    for figure in (
        "spread-proximal",
        "cortices-distal",
        "bridging-span",
        "plate-span-ratio",
        "screw-density",
        "travel",
    ):
        assert f'id="figure-{figure}"' in html


def test_every_control_of_the_page_makes_an_edit_that_is_taken(client: TestClient, stored: Stored) -> None:
    """All edits that the page carries ready-made: each previews, none makes the server stumble."""
    reader = Reader(client.get(f"/cases/{stored.id}").text)
    ready = [
        json.loads(attrs["data-edit"])
        for _, attrs in reader.tags
        if "data-edit" in attrs and "data-field" not in attrs and "data-drag" not in attrs
    ]
    assert len(ready) > 40
    for edit in ready:
        answer = stored.preview(edit)
        assert answer.status_code in (200, 422), answer.text
        if answer.status_code == 422:  # a longer or shorter plate or bone may not fit; then it says why
            assert answer.json()["faults"]


def test_every_field_takes_its_own_value_back(client: TestClient, stored: Stored) -> None:
    reader = Reader(client.get(f"/cases/{stored.id}").text)
    fields = [
        attrs for tag, attrs in reader.tags if tag == "input" and "data-field" in attrs and "data-number" in attrs
    ]
    assert len(fields) > 15
    for attrs in fields:
        edit = json.loads(attrs["data-edit"])
        *steps, last = attrs["data-field"].split(".")
        place = edit
        for step in steps:
            place = place[step]
        place[last] = float(attrs["value"]) if attrs["value"] else None
        assert stored.preview(edit).status_code == 200, attrs["id"]


def test_a_sample_opens_with_one_form(client: TestClient) -> None:
    reader = Reader(client.get("/").text)
    keys = [attrs["value"] for tag, attrs in reader.tags if tag == "input" and attrs.get("name") == "sample"]
    assert len(keys) >= 8
    assert reader.count("svg") > len(keys), "each has its picture"
    for key in keys:
        answer = client.post("/cases", data={"sample": key}, follow_redirects=False)
        assert answer.status_code == 303
        assert client.get(answer.headers["Location"]).status_code == 200


def test_a_new_case_begins_from_every_bone(client: TestClient) -> None:
    reader = Reader(client.get("/").text)
    offered: dict[str, list[str]] = {}
    for tag, attrs in reader.tags:
        if tag == "input" and attrs.get("type") == "radio":
            offered.setdefault(attrs["name"], []).append(attrs["value"])
    assert set(offered["bone"]) == {"clavicle", "humerus", "radius", "ulna", "femur", "tibia", "fibula"}
    assert {*offered["side"], *offered["principle"]} >= {"", "left", "right", "compression", "protection", "bridging"}
    assert len(offered["pattern"]) == 7
    for bone, pattern in zip(offered["bone"], offered["pattern"], strict=True):
        chosen = {"bone": bone, "pattern": pattern, "side": "left", "principle": "", "series": ""}
        answer = client.post("/new-case", data=chosen, follow_redirects=False)
        assert answer.status_code == 303
        page = client.get(answer.headers["Location"])
        assert page.status_code == 200
        assert f"Left {bone}, " in page.text
        assert "Laid out without a stop or caution" in page.text
    for bone in offered["bone"]:  # without more said, nothing is laid out
        answer = client.post("/cases", data={"bone": bone}, follow_redirects=False)
        assert client.get(answer.headers["Location"]).status_code == 200


@pytest.mark.parametrize(
    ("chosen", "told"),
    [
        ({"bone": "fibula", "pattern": "C2"}, "No layout without a stop or caution was found"),
        ({"bone": "humerus", "pattern": "A1", "principle": "compression"}, "No layout was found for this fracture"),
        ({"bone": "radius", "pattern": "B2", "principle": "protection"}, "Laid out for another principle"),
        ({"bone": "fibula", "pattern": "A3", "series": "large-broad-4.5"}, "layout"),
        ({"bone": "tibia", "pattern": "A3", "series": "large-narrow-4.5"}, "Laid out without a stop or caution"),
    ],
)
def test_what_became_of_the_answers_is_told_on_landing(client: TestClient, chosen: dict[str, str], told: str) -> None:
    landed = client.post("/new-case", data=chosen)
    assert landed.status_code == 200
    status = re.search(r'id="status"[^>]*>([^<]*)<', landed.text)
    assert status is not None
    assert told in status[1]


@pytest.mark.parametrize(
    "chosen",
    [
        {"bone": "humerus"},
        {"pattern": "A2"},
        {"bone": "tail", "pattern": "A2"},
        {"bone": "humerus", "pattern": "D4"},
        {"bone": "humerus", "pattern": "A2", "side": "both"},
        {"bone": "humerus", "pattern": "A2", "principle": "hope"},
        {"bone": "humerus", "pattern": "A2", "series": "none-such"},
    ],
)
def test_answers_that_no_card_offers_are_refused_on_a_page(client: TestClient, chosen: dict[str, str]) -> None:
    answer = client.post("/new-case", data=chosen)
    assert answer.status_code == 422
    assert "<h1>" in answer.text


def test_a_card_sent_twice_begins_one_case(client: TestClient) -> None:
    chosen = {"bone": "ulna", "pattern": "A3", "key": "key-of-the-card-once"}
    made = {client.post("/new-case", data=chosen, follow_redirects=False).headers["Location"] for _ in range(2)}
    assert len(made) == 1


def test_a_layout_is_at_most_six_taps_away(client: TestClient, stored: Stored) -> None:
    """One tap for each question that has no answer yet, and for the side; one to open the card and one to begin."""
    page = client.get("/").text
    card = page[page.index('id="new-case"') : page.index("</form>")]
    groups = set(re.findall(r'type="radio" name="([a-z]+)"', card))
    answered = set(re.findall(r'type="radio" name="([a-z]+)" value="[^"]*"(?: required)? checked', card))
    assert groups == {"bone", "side", "pattern", "principle", "series"}
    folded = not re.match(r'id="new-case" open', card)
    assert folded == bool(stored.id), "it is open only while there is no case"
    assert len(groups - answered) + len({"side"}) + folded + len(["begin"]) == 5


@pytest.mark.parametrize("data", [{}, {"bone": "tail"}, {"sample": "none-such"}, {"sample": "../../pyproject"}])
def test_a_new_case_from_nothing_is_refused(client: TestClient, data: dict[str, str]) -> None:
    answer = client.post("/cases", data=data)
    assert answer.status_code in (404, 422)
    assert "<h1>" in answer.text


def test_duplicate_and_delete(client: TestClient, stored: Stored) -> None:
    answer = client.post(f"/cases/{stored.id}/duplicate", follow_redirects=False)
    assert answer.status_code == 303
    copy = answer.headers["Location"]
    assert "Bosun’s arm (copy)" in client.get(copy).text
    gone = client.post(f"{copy}/delete", follow_redirects=False)
    assert (gone.status_code, gone.headers["Location"]) == (303, "/")
    assert client.get(copy).status_code == 404
    assert client.get(f"/cases/{stored.id}").status_code == 200


def test_duplicating_the_longest_title_is_possible(client: TestClient) -> None:
    case = Stored(client, humerus(title="t" * 120))
    assert client.post(f"/cases/{case.id}/duplicate", follow_redirects=False).status_code == 303


def test_export_and_import_are_each_others_inverse(client: TestClient, stored: Stored) -> None:
    stored.edit({"op": "set_note", "note": "Ω – first line\nsecond"})
    exported = client.get(f"/cases/{stored.id}/export")
    assert exported.headers["Content-Disposition"].startswith('attachment; filename="bosuns-arm')
    known = client.post("/import", files={"file": ("case.json", exported.content)}, follow_redirects=False)
    client.post(f"/cases/{stored.id}/delete")
    fresh = client.post("/import", files={"file": ("case.json", exported.content)}, follow_redirects=False)
    assert (known.status_code, fresh.status_code) == (303, 303)
    assert client.get(f"{fresh.headers['Location']}/export").json() == exported.json()


@pytest.mark.parametrize("content", [b"", b"{", b"\xff\xfe", b"[" * 100_000, b'{"format": "other"}', b"NaN"])
def test_a_file_that_is_no_case_is_refused_with_the_reason(client: TestClient, content: bytes) -> None:
    answer = client.post("/import", files={"file": ("case.json", content)})
    assert answer.status_code == 422
    assert "<h1>" in answer.text


def test_an_import_off_the_bone_names_the_field(client: TestClient) -> None:
    document = humerus()
    document["constructs"][0]["plate"]["centre_mm"] = 10
    answer = client.post("/import", files={"file": ("case.json", json.dumps(document))})
    assert answer.status_code == 422
    assert "plate.centre_mm" in answer.text


@pytest.mark.parametrize("construct", ["1", "-1", "99", "x"])
def test_a_bone_that_the_case_lacks(client: TestClient, stored: Stored, construct: str) -> None:
    assert client.get(f"/cases/{stored.id}?construct={construct}").status_code in (404, 422)


def test_rules_page_shows_every_rule_with_its_thresholds(client: TestClient) -> None:
    from app.rules import all_rules

    reader = Reader(client.get("/rules").text)
    assert set(reader.values("id")) >= {rule.id for rule in all_rules()}


def test_api_page_lists_every_address(client: TestClient) -> None:
    html = client.get("/api").text
    for path in client.get("/api/v1/openapi.json").json()["paths"]:
        assert path in html


def test_the_rules_say_on_whom_their_sources_are_and_count_them(client: TestClient) -> None:
    html = client.get("/rules").text
    rules, thresholds = all_rules(), load_thresholds().entries
    told = re.findall(r'<strong>Source on:</strong> <span class="on-([a-z]+)">', html)
    assert sorted(told) == sorted([*(rule.on for rule in rules), *(entry.figure.on for entry in thresholds.values())])
    counted = re.findall(
        r'<th scope="row">([^<]+)</th><td class="figure">(\d+)</td><td class="figure">(\d+)</td>', html
    )
    sums = {name: int(of_rules) + int(of_thresholds) for name, of_rules, of_thresholds in counted}
    assert sums.pop("all") == len(rules) + len(thresholds)
    assert sums == {ON_WORDS[on]: told.count(on) for on in set(told)}
    assert sums["veterinary page (no human source found)"] >= 3
