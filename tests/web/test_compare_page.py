"""The page that puts variants side by side: one scale, every figure, differences marked in words and signs."""

import html
import json
import re

import pytest

from app.assess import assess, load_knowledge
from app.case import parse_case
from app.compare import Column, compare
from tests.client import Stored
from tests.web.test_pages import Reader
from tests.web.test_whatifs import keep


@pytest.fixture
def changed(stored: Stored) -> Stored:
    """A case with one what-if and an edit since."""
    keep(stored, name="All filled")
    stored.edit({"op": "set_role", "target": 0, "hole": 0, "role": "empty"})
    return stored


def page(stored: Stored, query: str = "") -> str:
    answer = stored.client.get(f"/cases/{stored.id}/compare{query}")
    assert answer.status_code == 200, answer.text
    return answer.text


def whatif_of(stored: Stored) -> str:
    return f"w{stored.client.get(f'{stored.path}/whatifs').json()[0]['id']}"


def test_by_itself_it_shows_now_and_the_what_ifs(changed: Stored) -> None:
    text = page(changed)
    assert re.findall(r'<h2 id="column-\d"><span class="letter">(.)</span> ([^<]*)</h2>', text) == [
        ("A", "Now"),
        ("B", "All filled"),
    ]


def test_all_drawings_have_one_window_and_ids_of_their_own(changed: Stored) -> None:
    text = page(changed, f"?with=now,{whatif_of(changed)}")
    assert len(set(re.findall(r'data-view="([^"]*)"', text))) == 1
    assert len(re.findall(r'data-view="', text)) == 2
    reader = Reader(text)
    assert reader.inline == []
    ids = reader.values("id")
    assert sorted(ids) == sorted(set(ids))
    assert reader.count("h1") == 1


def test_the_table_has_every_figure_of_the_comparison_and_marks_the_same_lines(changed: Stored) -> None:
    """Against the comparison worked out beside the server, from the exported case and the what-if's construct."""
    text = page(changed, f"?with=now,{whatif_of(changed)}")
    knowledge = load_knowledge()
    now = changed.get()["case"]
    then = {**now, "constructs": [changed.client.get(f"{changed.path}/whatifs").json()[0]["swap"]["edits"][0]["value"]]}
    columns = [
        Column(name, assess(parse_case(json.dumps(case)), knowledge).constructs[0])
        for name, case in (("Now", now), ("All filled", then))
    ]
    wanted = compare(tuple(columns))
    rows = re.findall(r'<tr class="(differs|same)">.*?<th scope="row">(.*?)</th>.*?</tr>', text)
    assert [(html.unescape(name), kind == "differs") for kind, name in rows] == [
        (row.name, row.differs) for row in wanted.rows
    ]
    assert any(row.differs for row in wanted.rows)
    assert text.count("≠</span>") == len(wanted.differing)
    for warning in wanted.warnings:
        assert html.escape(warning.message, quote=False)[:40] in text.replace("&#39;", "'")


def test_any_two_revisions(changed: Stored) -> None:
    changed.edit({"op": "move_plate", "target": 0, "centre_mm": 163})
    first, second, _ = changed.client.get(f"{changed.path}/revisions").json()
    text = page(changed, f"?with=r{first['id']}&with=r{second['id']}")
    assert "Hole 1: empty" in text
    assert text.count("data-swap") == 2


def test_swapping_a_revision_in_goes_through_the_edits(changed: Stored) -> None:
    first = changed.client.get(f"{changed.path}/revisions").json()[0]
    reader = Reader(page(changed, f"?with=now,r{first['id']}"))
    (swap,) = reader.values("data-swap")
    assert changed.edit(json.loads(swap)).status_code == 200
    assert changed.get()["case"]["constructs"][0]["holes"][0]["role"] == "neutral"


def test_a_case_without_a_past_says_what_to_do(stored: Stored) -> None:
    assert "nothing yet to set beside it" in page(stored)


@pytest.mark.parametrize(
    ("query", "status"),
    [
        ("?with=x1", 422), ("?with=w999999", 404), ("?with=r999999", 404), ("?with=now,w", 422), ("?construct=1", 404),
        ("?with=now,r1,r2,r3,r4", 422), ("?construct=-1", 422), ("?with=w1%00", 422), ("?with=r99999999999999999", 404),
    ],
)  # fmt: skip
def test_what_is_not_there_is_told(stored: Stored, query: str, status: int) -> None:
    assert stored.client.get(f"/cases/{stored.id}/compare{query}").status_code == status


def test_the_same_twice_is_shown_once(changed: Stored) -> None:
    assert page(changed, "?with=now,now&with=&with=").count('<h2 id="column-') == 1
