"""The map of layouts over the API and as a part of the sketch page."""

import json
import re
from html import unescape
from pathlib import Path
from xml.etree import ElementTree as ET

import pytest
from fastapi.testclient import TestClient
from jsonschema import Draft202012Validator

from app.assess import load_knowledge
from app.case import apply, parse_case
from app.case.edits import SetRole, edit_document
from app.layout_map import table
from app.layout_map.shape import map_schema
from app.mechanics import Supports
from app.mechanics.layouts.solve import layout_map
from app.mechanics.of_layout import Loading
from app.web.panels.layout_map import Others
from app.web.panels.map_desk import MapDesk, MapOf, Panel

SAMPLES = Path(__file__).parents[2] / "sample_cases"


def kept(client: TestClient, name: str) -> str:
    case = next(SAMPLES.glob(f"{name}*.json")).read_bytes()
    answer = client.post("/api/v1/cases", content=case, headers={"Content-Type": "application/json"})
    assert answer.status_code == 201
    return str(answer.json()["id"])


def test_the_api_answers_as_its_schema_says(client: TestClient) -> None:
    case = kept(client, "09-clavicle")
    document = client.get(f"/api/v1/cases/{case}/map").json()
    assert list(Draft202012Validator(client.get("/api/v1/schema/map").json()).iter_errors(document)) == []
    assert client.get("/api/v1/schema/map").json() == json.loads(json.dumps(map_schema()))
    held = client.get(f"/api/v1/cases/{case}/map?loading=0,partial,held,held").json()
    assert held["supports"] == {"proximal": "held", "distal": "held"}
    assert held["figures"] != document["figures"]


def test_there_is_no_map_of_a_bone_that_is_not_there(client: TestClient) -> None:
    assert client.get(f"/api/v1/cases/{kept(client, '09-clavicle')}/map?construct=3").status_code == 404


@pytest.fixture
def femur(client: TestClient) -> str:
    return kept(client, "04-femur")


def part(client: TestClient, case: str, more: str = "") -> str:
    answer = client.get(f"/cases/{case}/map?construct=0{more}")
    assert answer.status_code == 200
    return answer.text


def test_the_part_says_what_is_fixed_and_which_screw_is_missed_least(client: TestClient, femur: str) -> None:
    html = part(client, femur)
    text = re.sub(r"\s+", " ", re.sub(r"<[^>]*>", "", html))
    assert "loads, supports and the role of each hole are held fixed" in text
    assert "Missed least: hole 16. Without its screw strain at the far cortex stays 2.5 %" in text
    cost = (
        "What it costs: 2 plate screws and 4 cortices hold the distal fragment; the femur needs 3 and 6 for bridging."
    )
    assert cost in text  # the rule's own words, of the construct without that screw
    assert "847 leave a fragment unheld" in text
    assert " best" not in text.lower()
    assert " score" not in text.lower()


def test_the_picture_marks_the_present_layout_and_counts_all_that_hold(client: TestClient, femur: str) -> None:
    html = part(client, femur)
    picture = ET.fromstring(html[html.index("<svg") : html.index("</svg>") + 6])
    assert [g.get("data-mark") for g in picture.iter("g") if g.get("data-mark")] == ["now"]
    words = [rect.get("data-words") or "" for rect in picture.iter("rect")]
    assert sum(int(one.split()[0]) for one in words) == 4096 - 847
    assert "nan" not in html


def test_a_place_lists_its_layouts_with_an_edit_each(client: TestClient, femur: str) -> None:
    html = part(client, femur)
    cell = re.search(r'data-cell="([0-9]+,[0-9]+)" data-words="([0-9]+) layouts?', html)
    assert cell is not None
    listed = client.get(f"/cases/{femur}/map/list?cell={cell[1]}").text
    assert f"{cell[2]} layout" in listed
    assert listed.count("data-map-try") == min(int(cell[2]), 40)
    four = client.get(f"/cases/{femur}/map/list?screws=12").text
    assert "1 layout with 12 screws" in four


def test_a_layout_of_the_map_is_an_edit_that_makes_it(client: TestClient, femur: str) -> None:
    html = client.get(f"/cases/{femur}/map/list?screws=12").text
    found = re.search(r'data-map-try="([^"]*)"', html)
    assert found is not None
    edit = json.loads(found[1].replace("&#34;", '"').replace("&quot;", '"'))
    shown = client.post(f"/api/v1/cases/{femur}/preview", json={"edit": edit}).json()
    assert "12 of 16" in shown["panels"]["summary"]
    assert client.get(f"/api/v1/cases/{femur}").json()["version"] == 1


def test_filling_a_hole_makes_no_new_map(monkeypatch: pytest.MonkeyPatch) -> None:
    made: list[object] = []
    monkeypatch.setattr(table, "layout_map", lambda construct: made.append(construct) or layout_map(construct))
    desk, shown = MapDesk(load_knowledge()), Panel((None, None), Others(), 1, "file.json")
    case = parse_case((SAMPLES / "04-femur-multifragmentary-bridge.json").read_text())
    filled = apply(case, SetRole(target=0, hole=1, role="locking-2"))
    assert "6 screws." in desk.panel(MapOf(case, 0), shown)
    assert "7 screws." in desk.panel(MapOf(filled, 0), shown)
    assert len(made) == 1
    desk.panel(MapOf(filled, 0, Loading("own", 124.0, 4.0, 5.0, Supports())), shown)
    assert len(made) == 2


def test_other_figures_can_be_chosen(client: TestClient, femur: str) -> None:
    html = part(client, femur, "&x=screws&y=peak-stress")
    assert 'data-x="screws" data-y="peak-stress"' in html
    assert "between ball joints what the plate bears" in html
    assert "none betters one figure" in html
    assert client.get(f"/cases/{femur}/map?x=%3Cscript").status_code == 422


def test_a_what_if_of_the_same_plate_is_marked(client: TestClient, femur: str) -> None:
    assert client.post(f"/api/v1/cases/{femur}/whatifs", json={"construct": 0, "name": "Six"}).status_code == 201
    edit = edit_document(SetRole(target=0, hole=1, role="locking-2"))
    client.post(f"/api/v1/cases/{femur}/edits", json={"edit": edit}, headers={"If-Match": '"1"'})
    html = part(client, femur)
    assert 'data-mark="whatif" data-words="Six"' in html


def test_a_suggested_layout_of_the_same_plate_is_marked(client: TestClient, femur: str) -> None:
    offered = client.get(f"/api/v1/cases/{femur}/layouts").json()["html"]
    found = re.search(r'data-edit="([^"]*)"', offered)
    assert found is not None
    edit = json.loads(unescape(found[1]))
    assert client.post(f"/api/v1/cases/{femur}/edits", json={"edit": edit}, headers={"If-Match": '"1"'}).is_success
    assert 'data-mark="suggested"' not in part(client, femur)  # nobody has asked for suggestions to this version yet
    client.get(f"/api/v1/cases/{femur}/layouts")
    assert 'data-mark="suggested"' in part(client, femur)


def far(client: TestClient, case: str, more: str = "") -> str:
    answer = client.get(f"/cases/{case}/conference/map?construct=0{more}")
    assert answer.status_code == 200
    return re.sub(r"\s+", " ", re.sub(r"<[^>]*>", "", answer.text[answer.text.index("</svg>") :]))


def test_the_conference_view_has_the_map_of_the_construct_and_of_its_what_ifs(client: TestClient, femur: str) -> None:
    html = client.get(f"/cases/{femur}/conference/map").text
    picture = ET.fromstring(html[html.index("<svg") : html.index("</svg>") + 6])
    assert [g.get("data-mark") for g in picture.iter("g") if g.get("data-mark")] == ["now"]
    assert "6 screws." in far(client, femur)
    assert "Missed least: hole 16." in far(client, femur)
    tried = {"op": "set_role", "target": 0, "hole": 1, "role": "locking-2"}
    kept = client.post(f"/api/v1/cases/{femur}/whatifs", json={"construct": 0, "edit": tried}).json()
    assert "7 screws." in far(client, femur, f"&variant=w{kept['id']}")
    assert client.get(f"/cases/{femur}/conference/map?variant=w999").status_code == 404
    assert client.get(f"/cases/{femur}/conference/map?variant=best").status_code == 422


def test_how_sure_a_change_is_is_worked_out_when_it_is_asked_for_and_told_from_then_on(
    client: TestClient, femur: str
) -> None:
    own = "&loading=0,own,321,4,5,ball,ball"  # that no other test has asked for
    assert 'data-drawn="no"' in part(client, femur, own)
    assert 'data-drawn="yes"' in part(client, femur, f"{own}&bands=true")
    known = part(client, femur, f"{own}&x=axial&y=peak-stress")
    assert 'data-drawn="yes"' in known
    assert re.search(r"[+−]\d+ % \([+−]\d+\sto\s[+−]\d+\)", known)
    edit = edit_document(SetRole(target=0, hole=1, role="locking-2"))
    client.post(f"/api/v1/cases/{femur}/edits", json={"edit": edit}, headers={"If-Match": '"1"'})
    assert 'data-drawn="no"' in part(client, femur, own)  # another layout has other neighbours


def test_the_plan_shows_a_small_picture_if_it_is_wanted(client: TestClient, femur: str) -> None:
    plain, mapped = (client.get(f"/cases/{femur}/plan{more}").text for more in ("", "?map=true"))
    assert "With the map of layouts" in plain
    assert "layout-map-picture" not in plain
    assert 'class="layout-map-picture"' in mapped
    assert "Missed least: hole 16." in mapped
    assert f"/cases/{femur}/plan.pdf?paper=a4&amp;map=true" in mapped
    sizes = [len(client.get(f"/cases/{femur}/plan.pdf{more}").content) for more in ("", "?map=true")]
    assert sizes[1] > sizes[0]
