"""Order panel, steps, plan and tools over HTTP."""

import re
from typing import Any

import pytest
from fastapi.testclient import TestClient

from app.assess import assess, load_knowledge
from app.case import Case
from app.document import as_document
from app.order import order_of, plan, states, tool_list
from app.web.access.permissions import Reader, may
from tests.cases import humerus
from tests.client import Stored
from tests.papers import leaves

KNOWLEDGE = load_knowledge()


def reordered(stored: Stored, order: list[str] | None) -> Any:
    answer = stored.edit({"op": "set_order", "target": 0, "order": order})
    assert answer.status_code == 200, answer.text
    return answer.json()


def layout_of(document: dict[str, Any]) -> Any:
    return assess(Case.model_validate(document), KNOWLEDGE, mechanics=False).constructs[0].layout


def test_the_panel_tells_every_step(stored: Stored) -> None:
    html = stored.preview(None).json()["panels"]["order"]
    steps = plan(layout_of(stored.get()["case"]))
    assert html.count("<li ") == len(steps)
    for step in steps:
        assert step.what in html
        assert step.why.replace("'", "&#39;") in html
    assert "This is the derived order." in html


def test_a_wrong_order_is_warned_about_at_its_step_and_the_remedy_mends_it(stored: Stored) -> None:
    """Common practice, and AO Surgery Reference for the side: the obtuse side first; swapped, obtuse-first speaks."""
    order = list(order_of(layout_of(stored.get()["case"])))
    wrong = [order[1], order[0], *order[2:]]
    panels = reordered(stored, wrong)["panels"]
    assert 'data-rule="obtuse-first"' in panels["warnings"]
    row = panels["order"].split(f'data-screw="{wrong[0]}"')[1].split("</li>")[0]
    assert "step-warning" in row
    assert "obtuse corner" in row
    assert "Back to the derived order" in panels["order"]
    panels = reordered(stored, None)["panels"]
    assert "obtuse-first" not in panels["warnings"]
    assert "step-warning" not in panels["order"]
    assert "Back to the derived order" not in panels["order"]


def test_taps_countersink_and_checks_are_told_at_their_steps(stored: Stored) -> None:
    stored.edit({"op": "add_lag", "target": 0, "value": {"position_mm": 150, "tilt_deg": -20, "screw": "cortex-3.5"}})
    html = stored.preview(None).json()["panels"]["order"]
    assert "tap 3.5, not for self-tapping screws" in html
    assert html.count("countersink by hand, not too deep") == 1
    assert "Image in two planes" in html


def test_the_panel_lists_the_bends_at_their_step(client: TestClient) -> None:
    made = client.post("/cases", data={"sample": "04-femur-multifragmentary-bridge"}, follow_redirects=False)
    html = client.get(made.headers["location"]).text
    case = client.get(f"/api/v1{made.headers['location']}").json()["case"]
    bends = as_document(assess(Case.model_validate(case), KNOWLEDGE))["constructs"][0]["contour"]["bends"]
    seen = [bend for bend in bends if abs(bend["angle_deg"]) >= 0.6]
    assert len(seen) > 5
    (listed,) = re.findall(r'<ul class="bends".*?</ul>', html, re.DOTALL)
    for bend in seen:
        first, last = bend["holes"]
        assert f"{first}–{last} <b>{bend['angle_deg']:.1f}°</b>" in listed
    assert listed.count("away from the bone") == listed.count("<li>")


def test_ends_of_the_order_move_no_further(stored: Stored) -> None:
    html = stored.preview(None).json()["panels"]["order"]
    order = order_of(layout_of(stored.get()["case"]))
    stuck = re.findall(r'<button type="button" id="(\w+-\w+)" data-move="\w+"[^>]*aria-disabled', html)
    assert stuck == [f"up-{order[0]}", f"down-{order[-1]}"]


def test_steps_say_what_the_states_say(stored: Stored) -> None:
    found = states(layout_of(stored.get()["case"]))
    for state in found:
        answer = stored.client.get(f"{stored.path}/steps/{state.step}")
        told = answer.json()
        assert (told["step"], told["steps"], told["sentence"]) == (state.step, len(found), state.sentence)
        assert told["screws"] == list(state.screws)
        assert [o["ds_mm"] for o in told["offsets"]] == [o.ds_mm for o in state.offsets]
        assert told["drawing"].startswith("<svg")
        assert answer.headers["ETag"] == f'"{told["version"]}"'


def test_steps_keep_the_window_and_the_enlargement_asked_for(stored: Stored) -> None:
    answer = stored.client.get(
        f"{stored.path}/steps/3", params={"view": "60,260", "times": 5, "bold": 1.6, "roomy": "false"}
    )
    drawing = answer.json()["drawing"]
    assert 'data-view="60,260"' in drawing
    assert "drawn 5 times as large" in drawing


@pytest.mark.parametrize(
    ("query", "status"),
    [
        ("steps/0", 422),
        ("steps/150", 404),
        ("steps/1?construct=3", 404),
        ("steps/1?construct=-1", 422),
        ("steps/1?view=5", 422),
        ("steps/1?view=200,100", 422),
        ("steps/1?view=nan,3", 422),
        ("steps/1?times=0", 422),
        ("steps/1?times=nan", 422),
        ("steps/1?colour=red", 422),
    ],
)
def test_what_is_not_there_is_refused_in_words(stored: Stored, query: str, status: int) -> None:
    answer = stored.client.get(f"{stored.path}/{query}")
    assert answer.status_code == status
    assert answer.json()["error"]


def test_a_reader_steps_through_its_own_case_only() -> None:
    reader = Reader("abc")
    assert may(reader, "GET", "/api/v1/cases/abc/steps/12")
    for path in ("/api/v1/cases/other/steps/1", "/api/v1/cases/abc/steps/", "/api/v1/cases/abc/steps/1/x"):
        assert not may(reader, "GET", path)
    assert not may(reader, "POST", "/api/v1/cases/abc/steps/1")
    assert not may(reader, "GET", "/cases/abc/plan.pdf")
    assert not may(Reader("a.c"), "GET", "/api/v1/cases/abc/steps/1")


@pytest.mark.parametrize(("paper", "size"), [("a4", (210, 297)), ("letter", (215.9, 279.4))])
def test_the_plan_sheet_comes_as_a_file(stored: Stored, paper: str, size: tuple[float, float]) -> None:
    """ISO 216 A4; ANSI Letter."""
    answer = stored.client.get(f"/cases/{stored.id}/plan.pdf", params={"paper": paper})
    assert answer.headers["Content-Type"] == "application/pdf"
    assert answer.headers["Content-Disposition"].endswith('-plan.pdf"')
    pages = leaves(answer.content)
    assert (pages[0].width_mm, pages[0].height_mm) == pytest.approx(size, abs=0.1)
    text = " ".join(pages[0].text.replace("\u00a0", " ").split())
    assert "axial stiffness" in text
    assert "Model estimate for comparing layouts, not a prediction for a patient." in text
    assert "True size" in pages[1].text


def test_another_paper_is_refused(stored: Stored) -> None:
    assert stored.client.get(f"/cases/{stored.id}/plan.pdf?paper=napkin").status_code == 422


def both_bones(client: TestClient) -> Stored:
    """A zoned ulna and a simple radius, the ulna given first."""
    roles = [
        {"role": role}
        for role in ("locking-2", "empty", "locking-2", *["empty"] * 5, "locking-2", "empty", "locking-2")
    ]
    ulna = {
        "bone": {"name": "ulna"},
        "fracture": {"lines": [{"position_mm": 125, "zone_mm": 20}]},
        "principle": "bridging",
        "plate": {"series": "small-3.5", "holes": 11, "centre_mm": 125},
        "holes": roles,
    }
    radius = {
        "bone": {"name": "radius"},
        "fracture": {"lines": [{"position_mm": 120, "obliquity_deg": 0}]},
        "principle": "compression",
        "plate": {"series": "small-3.5", "holes": 6, "centre_mm": 120, "prebend_mm": 1},
        "holes": [{"role": role} for role in ("neutral", "empty", "neutral", "eccentric", "empty", "neutral")],
    }
    return Stored(client, humerus(title="Oar and gunwale", constructs=[ulna, radius]))


def test_the_plan_page_has_the_simpler_bone_first(client: TestClient) -> None:
    """Source: AO Surgery Reference, forearm, both bones: the simpler fracture first."""
    stored = both_bones(client)
    html = client.get(f"/cases/{stored.id}/plan").text
    assert html.count('class="prose paper plan-page"') == 2
    assert html.index("Bone 1 of 2") < html.index("Bone 2 of 2")
    first = html.split('class="prose paper plan-page"')[1]
    assert '<strong id="plan-bone-1">Radius' in first
    assert "Hole 3: a neutral screw." in first


def test_the_plan_page_says_what_is_checked_and_what_to_do_if_it_goes_wrong(client: TestClient) -> None:
    stored = both_bones(client)
    html = client.get(f"/cases/{stored.id}/plan").text
    assert html.count("Check in theatre") == html.count('<h3 id="plan-wrong-') == 2
    theatre = html.split('class="prose paper plan-theatre"')
    assert len(theatre) == 3
    for part in theatre[1:]:
        assert "pronation and supination" in part
        assert "Reduction lost" in part
        assert "Local protocol" in part


def test_the_tool_list_counts_for_the_whole_case(client: TestClient) -> None:
    stored = both_bones(client)
    assessment = assess(Case.model_validate(stored.get()["case"]), KNOWLEDGE, mechanics=False)
    tools = tool_list(tuple(one.layout for one in assessment.constructs))
    html = client.get(f"/cases/{stored.id}/tools").text
    rows = re.findall(r"<tr><th scope=\"row\">([^<]+)</th><td>([^<]+)</td><td>(\d+)</td>", html)
    assert sum(int(count) for _, _, count in rows) == 8 == sum(item.count for item in tools.screws)
    for group in (tools.drills, tools.taps, tools.sleeves, tools.drivers, tools.instruments):
        for item in group:
            assert item.name.replace("'", "&#39;") in html
    assert "bending press, pliers or irons" in html  # one plate is pre-bent


def test_pages_of_a_case_that_is_not_there(client: TestClient) -> None:
    for name in ("plan", "plan.pdf", "tools"):
        assert client.get(f"/cases/nothere/{name}").status_code == 404
