"""The first page: a new case, the user's own cases page by page, the samples; all of it by links and forms alone."""

import re
from collections.abc import Iterator
from pathlib import Path
from xml.etree import ElementTree

import pytest
from fastapi.testclient import TestClient

from app.web import Settings, create_app
from app.web.routes.pages import LINES
from tests.cases import humerus
from tests.client import Stored
from tests.store.damaged import damage


@pytest.fixture(scope="module")
def own(tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    folder: Path = tmp_path_factory.mktemp("list")
    with TestClient(create_app(Settings(data_dir=folder)), base_url="http://127.0.0.1") as client:
        for number in range(2 * LINES + 3):
            client.post("/api/v1/cases", json=humerus(title=f"Case {number:03d} & more"))
        yield client


def titles(page: str) -> list[str]:
    return re.findall(r'class="case-name"[^>]*>Case (\d+) &amp; more</a>', page)


def link(page: str, rel: str) -> str | None:
    found = re.search(rf'rel="{rel}" href="([^"]*)"', page)
    return None if found is None else found[1].replace("&amp;", "&")


def test_links_lead_through_all_cases_and_back(own: TestClient) -> None:
    told, address = [], "/?sort=title"
    while address:
        page = own.get(address).text
        told.append(titles(page))
        address = link(page, "next") or ""
    assert [one for page in told for one in page] == [f"{n:03d}" for n in range(2 * LINES + 3)]
    assert [len(page) for page in told] == [LINES, LINES, 3]
    assert link(page, "prev") is not None
    before = own.get(link(page, "prev") or "").text
    assert titles(before) == told[1]
    assert titles(own.get(link(before, "prev") or "").text) == told[0]
    assert "43 cases" in page


def test_a_form_finds_cases_and_keeps_what_was_asked(own: TestClient) -> None:
    page = own.get("/?q=case+00+humerus+12a&sort=bone").text
    assert titles(page) == [f"{n:03d}" for n in range(10)]
    assert "10 cases found" in page
    assert 'name="q" value="case 00 humerus 12a"' in page
    assert re.search(r'<option value="bone" selected>', page)
    nothing = own.get("/?q=%22%3E%3Cb%3E").text
    assert "No case has all of that" in nothing
    assert 'value="&#34;&gt;&lt;b&gt;"' in nothing
    assert 'href="/">All cases' in nothing


def test_a_new_case_comes_first_and_the_samples_last(own: TestClient) -> None:
    page = own.get("/").text
    places = [page.index(f'id="{one}"') for one in ("new-title", "own-title", "samples-title")]
    assert places == sorted(places)


@pytest.mark.parametrize("place", ["after=nonsense", "before=AAAA", "after=WyJ0aXRsZSJd&sort=bone&q=x"])
def test_a_link_that_was_cut_leads_to_the_first_page(own: TestClient, place: str) -> None:
    answer = own.get(f"/?{place}", follow_redirects=False)
    assert answer.status_code == 303
    assert "after" not in answer.headers["Location"]
    assert own.get(answer.headers["Location"]).status_code == 200


@pytest.mark.parametrize("asked", ["sort=size", "q=" + "x" * 201, "after=a%20b"])
def test_what_no_list_can_be_asked_is_told_on_a_page(own: TestClient, asked: str) -> None:
    answer = own.get(f"/?{asked}")
    assert answer.status_code == 422
    assert "<h1>" in answer.text


def test_small_pictures_are_files_that_may_be_kept(own: TestClient) -> None:
    """RFC 9111, 5.2.2, and RFC 8246 (immutable): an address that names a version never shows another one."""
    case = Stored(own, humerus(title="Pictured"))
    pictures = re.findall(r'src="(/cases/[^"]*thumbnail[^"]*)"', own.get("/").text)
    assert len(pictures) == LINES
    answer = own.get(f"/cases/{case.id}/thumbnail.svg?version=1")
    root = ElementTree.fromstring(answer.text)
    assert root.tag == "{http://www.w3.org/2000/svg}svg"
    assert len(root.findall("{http://www.w3.org/2000/svg}path")) >= 5
    assert "prefers-color-scheme: dark" in answer.text
    assert "immutable" in answer.headers["Cache-Control"]
    assert "private" in answer.headers["Cache-Control"]
    assert own.get(f"/cases/{case.id}/thumbnail.svg?version=2").headers["Cache-Control"] == "no-cache"
    assert own.get("/cases/nothere/thumbnail.svg?version=1").status_code == 404


@pytest.mark.parametrize(
    ("referer", "back"),
    [
        ("http://127.0.0.1/?q=doomed&sort=title", "/?q=doomed&sort=title"),
        ("http://127.0.0.1/", "/"),
        ("http://127.0.0.1/cases/abc?construct=1", "/"),
        ("http://elsewhere.test//evil.test/?x", "/"),
        ("http://[", "/"),
        (None, "/"),
    ],
)
def test_deleting_leads_back_to_the_page_of_the_list(own: TestClient, referer: str | None, back: str) -> None:
    case = Stored(own, humerus(title="Doomed"))
    headers = {} if referer is None else {"Referer": referer}
    answer = own.post(f"/cases/{case.id}/delete", headers=headers, follow_redirects=False)
    assert (answer.status_code, answer.headers["Location"]) == (303, back)
    assert own.get(back).status_code == 200
    assert own.get(f"/cases/{case.id}").status_code == 404


def test_a_case_that_cannot_be_read_keeps_its_line_and_has_no_picture(own: TestClient) -> None:
    case = Stored(own, humerus(title="Damaged line"))
    store = own.app.state.server.store  # type: ignore[attr-defined]
    damage(store, store.get(case.id).revision_id, "no case")
    store._read.cases.clear()
    page = own.get("/?q=damaged+line")
    assert (page.status_code, "Damaged line" in page.text) == (200, True)
    picture = own.get(f"/cases/{case.id}/thumbnail.svg?version=1")
    assert (picture.status_code, picture.headers["Cache-Control"]) == (200, "no-cache")
    assert ElementTree.fromstring(picture.text).findall("*") == []
