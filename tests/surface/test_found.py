"""What once bricked a case, each on its own: it is accepted, so it opens."""

import math
import tomllib
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient

import app
from app.assess import assess, assess_stored, load_knowledge
from app.case import apply, parse_edit
from app.case.codes import patterns_of
from app.case.models import BONES, Case, Hole
from app.geometry import check_case, lay_out, ranges
from app.order import states
from app.suggest import blank_case, pattern_edit
from app.web import Settings, create_app
from tests.cases import humerus
from tests.client import Stored
from tests.surface.walk import walk

KNOWLEDGE = load_knowledge()
LONG = [bone for bone in BONES if bone not in ("clavicle", "fibula")]


def moved(case: Case, position_mm: float) -> Case:
    return apply(case, parse_edit({"op": "move_fracture", "position_mm": position_mm}))


def _to_the_end(bone: str, end: int) -> Case:
    """The bone's blank case, its fracture drawn square and moved as far as it goes."""
    case = apply(blank_case("At the end", bone, KNOWLEDGE), parse_edit({"op": "set_obliquity", "obliquity_deg": 0.0}))
    layout = lay_out(case.constructs[0], "normal", KNOWLEDGE.catalogue, KNOWLEDGE.allowances)
    case = moved(case, ranges(case.constructs[0], layout.shape, layout.series).lines[0][end])
    assert not check_case(case, KNOWLEDGE.catalogue)
    return case


@pytest.mark.parametrize("bone", BONES)
@pytest.mark.parametrize("end", [0, 1])
def test_a_fracture_at_the_very_end_of_the_bone_opens(client: TestClient, bone: str, end: int) -> None:
    case = _to_the_end(bone, end)
    stored = Stored(client, case.model_dump(mode="json"))
    assert walk(client, stored.id, dear=False) == []


@pytest.mark.parametrize("bone", BONES)
def test_every_pattern_that_is_offered_can_be_drawn_wherever_the_fracture_lies(bone: str) -> None:
    case = blank_case("Along the bone", bone, KNOWLEDGE)
    length = KNOWLEDGE.catalogue.bones[bone].length_mm
    upright = apply(case, parse_edit({"op": "set_obliquity", "obliquity_deg": 0.0}))
    refused = [
        (pattern, at)
        for at in (5.0, 6.0, 12.0, 20.0, 32.0, length / 3, length - 32, length - 12, length - 6, length - 5)
        for pattern in patterns_of(bone)
        if check_case(
            apply(case, parse_edit(pattern_edit(moved(upright, at).constructs[0], 0, pattern, KNOWLEDGE))),
            KNOWLEDGE.catalogue,
        )
    ]
    assert refused == []


@pytest.mark.parametrize("bone", LONG)
@pytest.mark.parametrize("prebend", [5e-324, 1.5, 10.0])
@pytest.mark.parametrize("end", [-1, 1])
def test_a_bent_plate_that_ends_at_the_fracture_has_its_steps(bone: str, prebend: float, end: int) -> None:
    construct = blank_case("End", bone, KNOWLEDGE).constructs[0]
    layout = lay_out(construct, "normal", KNOWLEDGE.catalogue, KNOWLEDGE.allowances)
    fracture = construct.fracture.model_copy(
        update={"lines": (construct.fracture.lines[0].model_copy(update={"obliquity_deg": 0.0}),)}
    )
    line = fracture.lines[0].position_mm
    plate = construct.plate.model_copy(
        update={"prebend_mm": prebend, "centre_mm": line + end * layout.plate_length_mm / 2}
    )
    holes = tuple(Hole(role="neutral") for _ in construct.holes)
    bent = construct.model_copy(update={"plate": plate, "fracture": fracture, "holes": holes})
    found = states(lay_out(bent, "normal", KNOWLEDGE.catalogue, KNOWLEDGE.allowances))
    assert found
    assert all(math.isfinite(state.plate_bow_mm) for state in found)


def test_a_plate_full_of_eccentric_screws_has_all_its_steps(client: TestClient) -> None:
    edits = [
        {"op": "move_fracture", "position_mm": 100.0},
        {"op": "set_plate", "series": "large-broad-4.5", "holes": 18, "centre_mm": 211.0},
        *({"op": "set_role", "hole": hole, "role": "eccentric"} for hole in range(18)),
    ]
    case = blank_case("Eccentric", "femur", KNOWLEDGE)
    stored = Stored(client, case.model_dump(mode="json"))
    answer = stored.edit({"op": "together", "edits": edits})
    assert answer.status_code == 200, answer.text
    steps = client.get(f"{stored.path}/steps/1").json()["steps"]
    assert steps > 200
    for step in (201, steps):
        assert client.get(f"{stored.path}/steps/{step}").status_code == 200
        assert client.get(f"/cases/{stored.id}/conference?step={step}").status_code == 200


@pytest.mark.parametrize("window", [(0, 10), (0, 19.9), (0, 1000.1), (-1000, 2000), (30, 20)])
def test_a_window_that_can_not_be_drawn_is_refused_before_anything_is_written(
    stored: Stored, window: tuple[float, float]
) -> None:
    edit = {"op": "set_gap", "gap_mm": 1}
    answer = stored.edit(edit, view=window)
    assert answer.status_code == 422
    assert "20 to 1000 mm" in answer.json()["error"]
    assert stored.preview(edit, view=window).status_code == 422
    assert stored.get()["version"] == 1


def test_the_smallest_window_is_drawn(stored: Stored) -> None:
    assert stored.edit({"op": "set_gap", "gap_mm": 1}, view=(150, 170)).status_code == 200


def test_an_added_bone_is_compared_with_nothing_that_had_none(stored: Stored) -> None:
    second = blank_case("Second", "radius", KNOWLEDGE).constructs[0].model_dump(mode="json")
    assert stored.edit({"op": "add_construct", "value": second}).status_code == 200
    page = stored.client.get(f"/cases/{stored.id}/compare?construct=1")
    assert page.status_code == 200


def _own_stock(folder: Path) -> Path:
    """A department's stock with a plate of its own, as long as it is there."""
    shipped = Path(app.__path__[0]) / "catalogue" / "data" / "plates.toml"
    table = tomllib.loads(shipped.read_text(encoding="utf-8"))["series"]["small-3.5"]
    table = {name: value for name, value in table.items() if name not in ("figure", "figures")} | {"label": "Our plate"}
    lines = ['[series."our-3.5"]', *(f"{name} = {_toml(value)}" for name, value in table.items())]
    path = folder / "stock.toml"
    path.write_text("\n".join(lines), encoding="utf-8")
    return path


def _toml(value: Any) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    return f'"{value}"' if isinstance(value, str) else str(value)


@pytest.fixture
def lost_plate(tmp_path: Path) -> Any:
    """A case, with a second bone, a what-if and a past, whose plate has left the server's stock."""
    stock = _own_stock(tmp_path)
    document = humerus()
    second = blank_case("Second", "radius", KNOWLEDGE).constructs[0].model_dump(mode="json")
    second["plate"] |= {"series": "our-3.5"}
    document["constructs"].append(second)
    with TestClient(create_app(Settings(data_dir=tmp_path, stock=stock)), base_url="http://127.0.0.1") as client:
        stored = Stored(client, document)
        assert client.post(f"{stored.path}/whatifs", json={"construct": 1}).status_code == 201
        other = {"op": "set_plate", "target": 1, "series": "small-3.5", "holes": second["plate"]["holes"]}
        assert stored.edit(other).status_code == 200
        assert stored.move("undo").status_code == 200
    with TestClient(
        create_app(Settings(data_dir=tmp_path)), base_url="http://127.0.0.1", raise_server_exceptions=False
    ) as client:
        stored.client = client
        yield stored


def test_a_case_whose_plate_has_left_the_stock_opens_and_can_be_mended(lost_plate: Stored) -> None:
    client, before = lost_plate.client, lost_plate.get()["case"]
    assert walk(client, lost_plate.id) == []
    html = client.get(f"/cases/{lost_plate.id}?construct=1").text
    assert "our-3.5" in before["constructs"][1]["plate"]["series"]
    assert "Not as planned: no such series" in html
    assert lost_plate.get()["case"] == before, "looking changes nothing"

    # other edits go on meanwhile, on the other bone and on this one
    assert lost_plate.edit({"op": "set_gap", "target": 0, "gap_mm": 1}).status_code == 200
    assert lost_plate.edit({"op": "set_gap", "target": 1, "gap_mm": 1}).status_code == 200
    refused = lost_plate.edit({"op": "set_plate", "target": 0, "series": "our-3.5", "holes": 8})
    assert refused.status_code == 422
    assert "in stock" in refused.json()["error"]

    mend = {"op": "set_plate", "target": 1, "series": "small-3.5", "holes": before["constructs"][1]["plate"]["holes"]}
    assert lost_plate.edit(mend).status_code == 200
    assert "Not as planned" not in client.get(f"/cases/{lost_plate.id}?construct=1").text
    # and an undo into that state is answered as what it is: done
    assert lost_plate.move("undo").status_code == 200
    assert "Not as planned" in client.get(f"/cases/{lost_plate.id}?construct=1").text
    assert walk(client, lost_plate.id, dear=False) == []


def test_taking_what_is_shown_makes_the_case_whole(lost_plate: Stored) -> None:
    case = Case.model_validate(lost_plate.get()["case"])
    found = [w for w in assess_stored(case, KNOWLEDGE).constructs[1].warnings if w.rule == "in-stock"]
    assert [warning.level for warning in found] == ["stop"]
    assert found[0].remedy is not None
    mended = apply(case, parse_edit(found[0].remedy.edit))
    assert check_case(mended, KNOWLEDGE.catalogue) == ()
    assert not [w for w in assess(mended, KNOWLEDGE).constructs[1].warnings if w.rule == "in-stock"]


@pytest.mark.parametrize(
    "part", ["readings", "summary", "warnings", "mechanics", "screws", "order", "setup", "drawing"]
)
def test_a_part_that_fails_is_left_out_and_the_page_opens(
    stored: Stored, part: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(*_: object, **__: object) -> None:
        raise ZeroDivisionError

    makers = {
        "summary": "contents.summary_view",
        "warnings": "redraw.warnings_html",
        "mechanics": "contents.mechanics_view",
        "readings": "contents.readings_view",
        "screws": "contents.screws_view",
        "order": "contents.order_view",
        "setup": "contents.setup_parts",
        "drawing": "redraw.draw_sketch",
    }
    monkeypatch.setattr(f"app.web.panels.{makers[part]}", fail)
    page = stored.client.get(f"/cases/{stored.id}")
    assert page.status_code == 200
    assert page.text.count("data-left-out") == 1
    assert f'data-left-out="{part}"' in page.text
    assert 'id="undo"' in page.text
    assert f"/cases/{stored.id}/export" in page.text
    answer = stored.edit({"op": "set_gap", "gap_mm": 2})
    assert answer.status_code == 200
    assert stored.get()["version"] == answer.json()["version"] == 2


def test_a_case_that_can_not_even_be_judged_has_a_page_with_the_ways_on(
    stored: Stored, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert stored.edit({"op": "set_gap", "gap_mm": 2}).status_code == 200

    def fail(*_: object, **__: object) -> None:
        raise ZeroDivisionError

    monkeypatch.setattr("app.web.state.assess_stored", fail)
    stored.client.app.state.server.stored.clear()  # type: ignore[attr-defined]
    page = stored.client.get(f"/cases/{stored.id}")
    assert page.status_code == 200
    assert f'action="/cases/{stored.id}/earlier"' in page.text
    monkeypatch.undo()
    back = stored.client.post(f"/cases/{stored.id}/earlier", data={"version": "2"})
    assert back.status_code == 200
    assert stored.get()["case"]["constructs"][0]["fracture"]["gap_mm"] == 0
